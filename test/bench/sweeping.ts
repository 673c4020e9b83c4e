/** A simulated sweep in real time against the sum of its windows and flash spacing. */
import { openBenchCore } from '../support/bench-core.ts'
import type { Figure } from './report.ts'
import { capturesOf } from '../support/captures.ts'

export async function realTimeSweep(): Promise<Figure[]> {
  const bench = await openBenchCore({ speed: 1 })
  try {
    // Six levels have 30 ordered pairs; one repeat of each.
    const plan = {
      levels: [0, 51, 102, 153, 204, 255],
      repeats: 1,
      sampleRateHz: 50_000,
      preS: 0.05,
      postS: 0.25,
      spacingS: 0.35,
    }
    const sweepId = await bench.plan(plan)
    const sweep = await bench.store.sweep({ sweepId })
    const { ladderS, ladderSettleS, levels, preS, postS, spacingS } = sweep.plan
    await bench.core.system.acknowledgeWarning({ understood: true })
    const start = performance.now()
    let ladderDone = start
    const release = bench.core.system.watch((event) => {
      if (event.kind === 'state' && event.state.sweep?.state === 'ladder') ladderDone = performance.now()
    })
    await bench.core.sweeps.start({ sweepId })
    await bench.until((state) => state.sweep?.state === 'finished', 'the end of the sweep', 60)
    const tookS = (performance.now() - start) / 1000
    release()
    const { length: captures } = await capturesOf(bench.store, {
      recipeHash: bench.state().recipeHash,
      sweepId,
      verdict: 'good',
    })
    // The ladder rests at each level and records it; the walk rests once at its first level. From then on a window lies
    // inside the spacing when it is shorter; the last one ends with what is recorded after its edge.
    const ladder = levels.length * (ladderSettleS + ladderS)
    const walk = ladderSettleS + preS + (captures - 1) * Math.max(spacingS, preS + postS) + postS
    return [
      {
        what: 'real-time simulated sweep of 30 captures, against the sum of its windows and flash spacing',
        value: tookS / (ladder + walk),
        unit: '×',
        relation: 'at most',
        bound: 1.05,
        detail:
          `${tookS.toFixed(2)} s for ${captures} captures; ladder ${ladder.toFixed(2)} s, first rest, windows and spacing ` +
          `${walk.toFixed(2)} s; ` +
          `last sign of the ladder after ${((ladderDone - start) / 1000).toFixed(2)} s`,
      },
    ]
  } finally {
    await bench.close()
  }
}
