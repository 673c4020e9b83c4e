/** Input latency: rig armed, input event, the stimulus reacts, light; every event's record is kept. */
import { AppError, toErrorDetail } from '#shared/domain/errors.ts'
import { FLASH_LIMIT_SPACING_S } from '#shared/domain/flash.ts'
import { REACTIONS, type LatencyEvent, type LatencyPlan, type LatencyRun } from '#shared/domain/latency.ts'
import { DEFAULT_PLAN, sweepPlanSchema } from '#shared/domain/plan.ts'
import { seededRandom } from '#shared/domain/seeded-random.ts'
import { blocksOf } from '#shared/latency/blocks.ts'
import { eventLight } from '#shared/latency/event.ts'
import { latencyReading } from '#shared/latency/reading.ts'
import type { Hub } from './hub.ts'
import type { Job, Jobs } from './jobs.ts'
import { linkedController } from './linked-controller.ts'
import type { Clock, Digitizer, Reaction, ReactingStimulus, RecordSettings, Rig, Store } from './ports.ts'

export interface LatencyRuns {
  /** `conflict` while one runs; `rig-absent` without a rig. */
  start(campaignId: number, plan: LatencyPlan, rigIdentity: string): string
  running(): boolean
  /** Makes the readings of runs that a killed program left without. */
  recover(): Promise<void>
}

export interface LatencyDeps {
  readonly store: Store
  readonly rig: Rig
  readonly stimulus: ReactingStimulus
  readonly clock: Clock
  readonly hub: Hub
  readonly jobs: Jobs
}

/** Events of all blocks of a run. */
interface Sofar {
  good: number
  unclear: number
  readonly total: number
}

/** How long a hand may take to press, and a rig's own output to be heard, s. */
const WAIT_S = { person: 120, rig: 2 } as const
/** A page that reacted says so within this time after the record, s. */
const REPORT_S = 2
/** Events in a row without a record or without clear light before a run is given up. */
const FAILURES_IN_A_ROW = 5
/** Events read from the archive at a time. */
const BATCH = 50

export function createLatencyRuns({ store, rig, stimulus, clock, hub, jobs }: LatencyDeps): LatencyRuns {
  async function work(
    job: Job<'latency'>,
    campaignId: number,
    plan: LatencyPlan,
    rigIdentity: string,
  ): Promise<string> {
    const { signal } = job
    const digitizer = rig.digitizer()
    const levels = [plan.from, plan.to].sort((a, b) => a - b)
    const { refreshHz, patch, rangeV, sampleRateHz } = plan
    await stimulus.prepare(
      sweepPlanSchema.parse({ ...DEFAULT_PLAN, refreshHz, levels, patch, rangeV, sampleRateHz }),
      signal,
      { patches: REACTIONS[plan.reaction], sensor: plan.row },
    )
    const second = plan.event !== 'trigger' && (await digitizer.hasSecond(signal))
    if (plan.event === 'channel-2' && !second)
      throw new AppError(
        'rig-unsuitable',
        'The rig has no second channel to show the event.',
        'Take the trigger as the event: wire it to the rig’s external trigger input.',
      )
    const blocks = blocksOf(plan)
    const sofar: Sofar = { good: 0, unclear: 0, total: blocks.reduce((sum, block) => sum + block.plan.events, 0) }
    job.progress(0, sofar.total)
    try {
      for (const block of blocks) {
        // One block after the other.
        // oxlint-disable no-await-in-loop
        if (block.asks !== '') await job.ask(block.asks)
        const run = await store.createLatencyRun({ campaignId, plan: block.plan, rigIdentity })
        job.result({ runId: run.id })
        try {
          await takeEvents(job, digitizer, run, second, sofar)
        } finally {
          const reading = await conclude(run)
          if (reading !== null) job.result({ readingId: reading })
        }
        // oxlint-enable no-await-in-loop
      }
    } finally {
      await stimulus.release().catch(() => undefined)
    }
    return ''
  }

  async function takeEvents(
    job: Job<'latency'>,
    digitizer: Digitizer,
    { id: runId, plan }: LatencyRun,
    second: boolean,
    sofar: Sofar,
  ): Promise<void> {
    const { signal } = job
    // Each run draws moments of its own: two runs at the same moments would agree better than chance lets them.
    const random = seededRandom((plan.seed + Math.imul(runId, 0x9e3779b9)) >>> 0)
    const changes = { at: -Infinity }
    let [position, good, failures] = [0, 0, 0]
    while (good < plan.events) {
      // One event after the other.
      // oxlint-disable no-await-in-loop
      let problem: string
      try {
        const taken = await takeEvent(digitizer, plan, second, changes, random, signal)
        position += 1
        await store.addLatencyEvent({ runId, position, takenAt: clock.iso(), ...taken })
        const light = eventLight(taken.trace, taken.triggerIndex, taken.second)
        problem = typeof light === 'string' ? light : ''
      } catch (error) {
        const { code, message } = toErrorDetail(error)
        if (code !== 'rig-timeout' && code !== 'rig-protocol') throw error
        problem = message
      }
      // oxlint-enable no-await-in-loop
      if (problem === '') {
        good += 1
        sofar.good += 1
        failures = 0
      } else {
        sofar.unclear += 1
        failures += 1
      }
      job.result({ taken: sofar.good, unclear: sofar.unclear, ...(problem === '' ? {} : { lastProblem: problem }) })
      job.progress(sofar.good, sofar.total)
      if (failures >= FAILURES_IN_A_ROW)
        throw new AppError(
          'rig-unsuitable',
          `${failures} events in a row gave no latency: ${problem}`,
          'Check that the sensor faces the patch, that the page is in front, and that the event reaches the host, the rig’s trigger input and, where the rig has one, its second channel.',
        )
    }
  }

  async function takeEvent(
    digitizer: Digitizer,
    plan: LatencyPlan,
    second: boolean,
    changes: { at: number },
    random: () => number,
    signal: AbortSignal,
  ): Promise<Pick<LatencyEvent, 'trace' | 'triggerIndex' | 'second' | 'handlerMs'>> {
    const rest = async (moreS = 0): Promise<void> => {
      const waitS = Math.max(0, changes.at + FLASH_LIMIT_SPACING_S - clock.now()) + moreS
      if (waitS > 0) await sleepExactly(clock, waitS, signal)
    }
    await rest()
    changes.at = clock.now()
    await stimulus.show(plan.from, signal)
    changes.at = clock.now()
    const settings = settingsOf(plan, second)
    const { controller: given, release } = linkedController(signal)
    try {
      await digitizer.configure(settings, signal)
      await digitizer.arm(signal)
      const { reacted } = await stimulus.react(plan.to, given.signal)
      if (plan.press === 'rig') {
        // At a random moment of the frame: events that keep step with the frames all wait alike.
        await rest(random() / plan.refreshHz)
        if (!(await digitizer.pulse()))
          throw new AppError(
            'rig-unsuitable',
            'The rig has no trigger output to act on an input device.',
            'Press the input by hand instead: its contact has to reach the rig’s trigger input too.',
          )
      }
      const recording = await digitizer.read(signal)
      changes.at = clock.now()
      return { ...recording, handlerMs: (await within(reacted, signal))?.handlerMs ?? null }
    } catch (error) {
      await digitizer.abort().catch(() => undefined)
      throw error
    } finally {
      release()
      given.abort()
    }
  }

  /** Null where the stimulus says nothing in time: the record tells whether it reacted. */
  async function within(reacted: Promise<Reaction>, signal: AbortSignal): Promise<Reaction | null> {
    const { controller: stop, release } = linkedController(signal)
    const late = clock.sleep(REPORT_S, stop.signal).then(
      () => null,
      () => null,
    )
    try {
      return await Promise.race([reacted, late])
    } finally {
      release()
      stop.abort()
    }
  }

  /** The reading of a run's events; null where fewer than two have clear light. */
  async function conclude(run: LatencyRun): Promise<number | null> {
    const reading = await latencyReading(run, eventsOf(store, run))
    if (reading === null) return null
    const { id } = await store.addReading(reading)
    await store.endLatencyRun({ runId: run.id, readingId: id })
    hub.emit({ kind: 'changed', what: 'readings' })
    return id
  }

  return {
    start(campaignId, plan, rigIdentity) {
      if (jobs.running('latency') > 0) throw new AppError('conflict', 'Input latency is already being measured.')
      rig.digitizer()
      const label = plan.reference && !plan.interleave ? 'Input latency, reference run' : 'Input latency'
      const first = { runId: null, taken: 0, unclear: 0, lastProblem: '', readingId: null }
      return jobs.start('latency', label, first, (job) => work(job, campaignId, plan, rigIdentity))
    },
    running: () => jobs.running('latency') > 0,
    async recover() {
      for (const run of await store.latencyRuns({}))
        if (run.readingId === null && run.events > 1)
          // A damaged record is no reason not to start.
          // oxlint-disable-next-line no-await-in-loop
          await conclude(run).catch((error: unknown) => hub.note('error', toErrorDetail(error).message))
    },
  }
}

/** A timer's own grid and lateness, real seconds. */
const TIMER_S = 0.002

/**
 * A clock faster than real time sleeps by real milliseconds, which are frames of its own: events would come at the same
 * few moments of a frame, and no wait would be even. The rest is therefore waited for without a timer.
 */
async function sleepExactly(clock: Clock, seconds: number, signal: AbortSignal): Promise<void> {
  const dueS = clock.now() + seconds
  const rate = clock.rate ?? 1
  if (rate <= 1) return clock.sleep(seconds, signal)
  const aheadS = seconds - TIMER_S * rate
  if (aheadS > 0) await clock.sleep(aheadS, signal)
  while (clock.now() < dueS) if (signal.aborted) return
}

function settingsOf({ sampleRateHz, rangeV, beforeS, afterS, press }: LatencyPlan, second: boolean): RecordSettings {
  const before = Math.round(beforeS * sampleRateHz)
  return {
    sampleRateHz,
    rangeV,
    points: before + Math.round(afterS * sampleRateHz),
    preTriggerPoints: before,
    trigger: { source: 'external' },
    transfer: 'int16',
    triggerWaitS: WAIT_S[press],
    second,
  }
}

/** Its raw records in the order they were taken, a few at a time. */
export async function* eventsOf(
  store: Pick<Store, 'latencyEvents'>,
  { id: runId }: Pick<LatencyRun, 'id'>,
): AsyncGenerator<LatencyEvent> {
  for (let from = 1; ; from += BATCH) {
    const events = await store.latencyEvents({ runId, from, limit: BATCH })
    yield* events
    if (events.length < BATCH) return
  }
}
