/** Fills an empty archive with a library of invented displays, measured as captures of a sweep are. */
import { sweepPlanOf, visitsOf } from '#shared/domain/campaign-plan.ts'
import type { Sweep } from '#shared/domain/capture.ts'
import { AppError } from '#shared/domain/errors.ts'
import { DEFAULT_RECIPE, recipeHash } from '#shared/domain/recipe.ts'
import { walkOf } from '#shared/domain/walk.ts'
import { groupFlags } from '#shared/measure/group-flags.ts'
import { measureInputOf } from '../measure-input.ts'
import type { Analyzer, Clock, Store } from '../ports.ts'
import type { DemoDisplay, DemoLibrary } from './content.ts'
import type { DemoRecord, MakeDemoBench, Mishap } from './demo-bench.ts'
import { fillLatency } from './latency.ts'
import { demoReadings } from './readings.ts'

export interface FillDemo {
  readonly store: Store
  readonly analyzer: Pick<Analyzer, 'measureMany' | 'concurrency'>
  readonly clock: Pick<Clock, 'iso'>
  readonly benchOf: MakeDemoBench
  readonly library: DemoLibrary
  readonly onProgress?: (done: number, total: number) => void
  readonly signal?: AbortSignal | undefined
}

const IDENTITY = 'Slewlight simulation (invented data)'
/** Captures in one message to an analysis thread. */
const BATCH = 32

const capturesOf = ({ displays }: DemoLibrary): number =>
  displays.reduce((sum, { plan }) => {
    const { levels, repeats } = plan.sweep
    return sum + visitsOf(plan).length * levels.length * (levels.length - 1) * repeats
  }, 0)

/** Answers how many captures were stored. Rejects as the store and the analyzer do, and with `cancelled`. */
export async function fillDemo(deps: FillDemo): Promise<number> {
  const { store, clock, library, onProgress } = deps
  const total = capturesOf(library)
  let done = 0
  const count = (captures: number): void => {
    done += captures
    onProgress?.(done, total)
  }
  count(0)
  await store.log({ sweepId: null, level: 'info', text: 'The demo library: all displays and numbers are invented.' })
  for (const [index, display] of library.displays.entries()) {
    const { name, note, plan } = display
    const campaign = await store.createCampaign({ name, note, display: display.display })
    await store.judge({ campaignId: campaign.id, judgement: display.judgement ?? null })
    const run = await store.createRun({ campaignId: campaign.id, plan })
    for (const [position, visit] of visitsOf(plan).entries()) {
      const sweepPlan = sweepPlanOf(plan, visit, position)
      const sweep = await store.createSweep({
        campaignId: campaign.id,
        plan: sweepPlan,
        origin: 'simulated',
        rigIdentity: IDENTITY,
        total: walkOf(sweepPlan).length,
        run: { id: run.id, position },
      })
      await fillSweep(deps, sweep, display, (at) => library.mishapAt(index, position, at), count)
    }
    await store.setRunState({ runId: run.id, state: 'finished', reason: '' })
    await store.addReading({
      campaignId: campaign.id,
      sweepId: null,
      kind: 'luminance',
      quantity: 'White, centre (invented)',
      unit: 'cd/m²',
      value: 240 + 30 * index,
      series: null,
      u: 5,
      source: IDENTITY,
      place: 'centre',
      note: '',
      setting: null,
      refreshHz: null,
      at: clock.iso(),
    })
    if (display.record === 'complete') await fillLatency(store, campaign.id, IDENTITY, clock.iso())
    await store.addReadings({ readings: demoReadings(campaign.id, display.record, clock.iso()) })
  }
  return done
}

async function fillSweep(
  { store, analyzer, clock, benchOf, signal }: FillDemo,
  { id: sweepId, plan }: Sweep,
  { source }: DemoDisplay,
  mishapAt: (position: number) => Mishap | null,
  onMeasured: (captures: number) => void,
): Promise<void> {
  const bench = benchOf(source, plan, clock.iso())
  await store.setLadder(sweepId, bench.ladder)
  const sweep = await store.sweep({ sweepId })
  const steps = walkOf(plan)
  const stored: Promise<unknown>[] = []
  let failed = false
  let failure: unknown = null
  const fail = (error: unknown): void => {
    if (!failed) failure = error
    failed = true
  }
  const measureAndStore = async (from: number): Promise<void> => {
    const made = steps.slice(from, from + BATCH).map((step) => {
      const record: DemoRecord = bench.record(step, mishapAt(step.position))
      return { step, ...record }
    })
    const outcomes = await analyzer.measureMany(
      // The samples of an input move to the other thread; those that are stored stay here.
      made.map(({ step, trace, triggerIndex }) =>
        measureInputOf({ ...step, triggerIndex }, sweep, { ...trace, samples: trace.samples.slice() }, DEFAULT_RECIPE),
      ),
    )
    for (const [i, { step, ...record }] of made.entries()) {
      const outcome = outcomes[i]
      const result = outcome !== undefined && 'result' in outcome ? outcome.result : null
      const verdict = result?.landmarks.crossMidS === null ? 'no-edge' : 'good'
      const capture = {
        sweepId,
        ...step,
        attempt: 1,
        takenAt: clock.iso(),
        verdict,
        source: IDENTITY,
        ...record,
      } as const
      stored.push(store.addCapture(capture, result).catch(fail))
    }
    onMeasured(made.length)
  }
  const batches = Array.from({ length: Math.ceil(steps.length / BATCH) }, (_, i) => i * BATCH)
  const lanes = Array.from({ length: 2 * analyzer.concurrency }, async () => {
    for (let from = batches.shift(); from !== undefined; from = batches.shift()) {
      if (failed || signal?.aborted === true) return
      await measureAndStore(from).catch(fail)
    }
  })
  await Promise.all(lanes)
  await Promise.all(stored)
  // Nothing is under way any more that would miss the archive.
  if (failed) throw failure
  if (signal?.aborted === true) throw new AppError('cancelled', 'Making the demo library was cancelled.')
  const hash = recipeHash(DEFAULT_RECIPE)
  await store.setGroupFlags(sweepId, hash, groupFlags(await store.comparison(sweepId, hash)))
  await store.setSweepState(sweepId, 'finished', '')
}
