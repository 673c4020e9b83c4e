/** What a moving slider waits for at the host: one stored capture under a recipe that changes every time. */
import { mkdtempSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { encodeFrame } from '#shared/contract/wire.ts'
import { DEFAULT_RECIPE, type Recipe } from '#shared/domain/recipe.ts'
import { openBenchCore } from '../support/bench-core.ts'
import { medianOf, percentile, type Figure } from './report.ts'
import { capturesOf } from '../support/captures.ts'

/** Moves that load and compile what the others use, and moves that count. */
const FIRST = 100
const MOVES = 400
const COLUMNS = 8192

/** Both kinds of slider: a threshold, and a filter whose conditioned trace is sent along. */
function recipeAt(i: number): Recipe {
  const endBand = { kind: 'percent' as const, percent: 1 + (i % 50) / 10 }
  if (i % 2 === 0) return { ...DEFAULT_RECIPE, endBand }
  return {
    ...DEFAULT_RECIPE,
    endBand,
    condition: { kind: 'low-pass', shape: 'bessel-4', cutoffHz: 1000 + i, phase: 'zero' },
  }
}

export async function movingSlider(): Promise<Figure[]> {
  const folder = mkdtempSync(join(tmpdir(), 'slewlight-bench-'))
  const bench = await openBenchCore({ archive: join(folder, 'archive.sqlite'), speed: 10 })
  try {
    await bench.core.system.acknowledgeWarning({ understood: true })
    const sweepId = await bench.plan({ levels: [0, 255], repeats: 1, sampleRateHz: 50_000 })
    await bench.core.sweeps.start({ sweepId })
    await bench.until((state) => state.sweep?.state === 'finished', 'the end of the sweep')
    const rows = await capturesOf(bench.store, { recipeHash: bench.state().recipeHash, sweepId })
    const info = rows[0]?.info
    if (info === undefined) throw new Error('There is no capture.')
    const times: number[] = []
    for (let i = 0; i < FIRST + MOVES; i++) {
      const started = performance.now()
      // One move after the other, as they are asked for.
      // oxlint-disable-next-line no-await-in-loop
      encodeFrame(await bench.core.recipes.preview({ captureId: info.id, recipe: recipeAt(i), columns: COLUMNS }))
      times.push(performance.now() - started)
    }
    const counted = times.slice(FIRST)
    return [
      {
        what: `preview of an edited recipe on ${info.sampleCount} samples at the host, p95 (of 50 ms from key to drawn markers)`,
        value: percentile(counted, 0.95),
        unit: 'ms',
        relation: 'at most',
        bound: 20,
        detail: `median ${medianOf(counted).toFixed(2)} ms of ${MOVES} moves, every second with its conditioned trace`,
      },
    ]
  } finally {
    await bench.close()
    rmSync(folder, { recursive: true, force: true })
  }
}
