/** Recording one transition and the static ladder on a digitizer. */
import type { FrameLog, Ladder, LadderStep, RawTrace } from '#shared/domain/capture.ts'
import type { SweepPlan, Transition } from '#shared/domain/plan.ts'
import type { LevelChanger } from './level-changer.ts'
import type { Clock, Digitizer, Recording, RecordSettings } from './ports.ts'

/** Time allowed for a level change to reach the light after it was asked for, s; recorded on top with a bus trigger. */
export const STIMULUS_ALLOWANCE_S = 0.15

export interface RecordDeps {
  readonly digitizer: Digitizer
  readonly changer: LevelChanger
  readonly clock: Clock
}

export interface RecordedTransition {
  readonly recording: Recording
  readonly frameLog: FrameLog
  /** True when the rig triggered on the light edge. */
  readonly edgeAtTrigger: boolean
}

/**
 * Decides how the rig finds the edge. A level trigger halfway between the two static levels needs both plateaus to
 * stay clear of it; with ripple or a strobe they do not, and the rig records at once instead.
 */
export function triggerFor(plan: SweepPlan, pair: Transition, ladder: Ladder): RecordSettings['trigger'] {
  const before = ladder.steps.find((step) => step.level === pair.from)
  const after = ladder.steps.find((step) => step.level === pair.to)
  if (plan.trigger === 'bus' || !before || !after) return { source: 'bus' }
  const step = Math.abs(after.meanV - before.meanV)
  const spread = Math.max(before.peakToPeakV, after.peakToPeakV)
  // Peak to peak reaches half of the step when the plateau touches the trigger level; a fifth leaves room for a longer look.
  if (step <= 0 || spread > 0.4 * step) return { source: 'bus' }
  return {
    source: 'level',
    levelV: (before.meanV + after.meanV) / 2,
    slope: after.meanV > before.meanV ? 'rising' : 'falling',
  }
}

function settingsFor(plan: SweepPlan, trigger: RecordSettings['trigger']): RecordSettings {
  const { sampleRateHz, rangeV, transfer } = plan
  const pre = Math.round(plan.preS * sampleRateHz)
  const post = Math.round(plan.postS * sampleRateHz)
  return trigger.source === 'level'
    ? { sampleRateHz, rangeV, transfer, trigger, points: pre + post, preTriggerPoints: pre }
    : {
        sampleRateHz,
        rangeV,
        transfer,
        trigger,
        preTriggerPoints: 0,
        points: pre + post + Math.round(STIMULUS_ALLOWANCE_S * sampleRateHz),
      }
}

/** Arm → rig confirms → stimulus switches → record spans before and after. The display must already show `pair.from`. */
export async function recordTransition(
  deps: RecordDeps,
  plan: SweepPlan,
  pair: Transition,
  trigger: RecordSettings['trigger'],
  signal: AbortSignal,
): Promise<RecordedTransition> {
  const { digitizer, changer, clock } = deps
  const settings = settingsFor(plan, trigger)
  await digitizer.configure(settings, signal)
  try {
    const armingAt = clock.now()
    await digitizer.arm(signal)
    // A rig that took as long to confirm as the pre-trigger span has it in its memory; one that confirms at once may not.
    const filled = trigger.source === 'level' && clock.now() - armingAt >= plan.preS
    let triggeredAt: number | null = null
    if (trigger.source === 'bus') {
      // The record starts with the bus trigger, so it may only be sent once the next change is near.
      const wait = changer.allowedAt - plan.preS - clock.now()
      if (wait > 0) await clock.sleep(wait, signal)
      triggeredAt = clock.now()
      await digitizer.trigger()
    }
    if (!filled) await clock.sleep(plan.preS, signal)
    const log = await changer.change(pair.to, signal)
    const frameLog = triggeredAt === null ? log : { ...log, sinceTriggerS: clock.now() - triggeredAt }
    const recording = await digitizer.read(signal)
    return { recording, frameLog, edgeAtTrigger: trigger.source === 'level' }
  } catch (error) {
    await digitizer.abort().catch(() => undefined)
    throw error
  }
}

/** Measures every level of the plan at rest, darkest first. */
export async function recordLadder(
  deps: RecordDeps,
  plan: SweepPlan,
  takenAt: string,
  signal: AbortSignal,
): Promise<Pick<Ladder, 'steps' | 'takenAt'>> {
  const steps: LadderStep[] = []
  for (const level of plan.levels) {
    await deps.changer.change(level, signal)
    await deps.clock.sleep(plan.ladderSettleS, signal)
    steps.push({
      level,
      ...plateauOf((await recordNow(deps.digitizer, plan, plan.ladderS, signal)).trace, plan.refreshHz),
    })
  }
  return { steps, takenAt }
}

/** One immediate recording of the light as it is. */
export async function recordNow(
  digitizer: Digitizer,
  plan: Pick<SweepPlan, 'sampleRateHz' | 'rangeV' | 'transfer'>,
  seconds: number,
  signal: AbortSignal,
): Promise<Recording> {
  const points = Math.max(16, Math.round(seconds * plan.sampleRateHz))
  await digitizer.configure(
    {
      sampleRateHz: plan.sampleRateHz,
      rangeV: plan.rangeV,
      transfer: plan.transfer,
      points,
      preTriggerPoints: 0,
      trigger: { source: 'immediate' },
    },
    signal,
  )
  try {
    await digitizer.arm(signal)
    return await digitizer.read(signal)
  } catch (error) {
    await digitizer.abort().catch(() => undefined)
    throw error
  }
}

/**
 * Mean, standard deviation and peak-to-peak of a record, V, over as many whole refresh periods as it holds: light that
 * is strobed or scanned repeats with them, and a part of one more would count its pulse or its dark too often.
 */
export function plateauOf(trace: RawTrace, refreshHz: number): Omit<LadderStep, 'level'> {
  const frame = trace.sampleRateHz / refreshHz
  const frames = Math.floor(trace.samples.length / frame)
  const count = frames > 0 ? Math.round(frames * frame) : trace.samples.length
  let mean = 0
  let squares = 0
  let low = Infinity
  let high = -Infinity
  trace.samples.subarray(0, count).forEach((sample: number, i: number) => {
    const volts = sample * trace.scaleV + trace.offsetV
    const delta = volts - mean
    mean += delta / (i + 1)
    squares += delta * (volts - mean)
    low = Math.min(low, volts)
    high = Math.max(high, volts)
  })
  return { meanV: mean, sdV: Math.sqrt(squares / Math.max(1, count - 1)), peakToPeakV: high - low }
}
