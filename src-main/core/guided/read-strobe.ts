/** Strobing at one place of the screen: pulse, phase in the frame, crosstalk. */
import { AppError } from '#shared/domain/errors.ts'
import type { FrameLog, RawTrace } from '#shared/domain/capture.ts'
import type { GuidedPlan, GuidedValue } from '#shared/domain/guided.ts'
import type { SweepPlan } from '#shared/domain/plan.ts'
import type { GuidedStep } from '#shared/guided/steps.ts'
import { strobePulse } from '#shared/light/strobe.ts'
import { meanSd } from '#shared/signal/statistics.ts'
import { createLevelChanger } from '../level-changer.ts'
import { recordTransition } from '../record.ts'
import { refuseClipped, STEADY_S, sweepPlanFor, type ReadDeps, type Taken } from './record-plan.ts'

/**
 * Pulse and phase from steady light at the brighter level; crosstalk from steps both ways.
 * @param dark level of the covered detector, V; null takes the dark between the pulses for it.
 */
export async function readStrobe(
  deps: ReadDeps,
  plan: GuidedPlan,
  step: GuidedStep,
  dark: number | null,
  signal: AbortSignal,
): Promise<Taken> {
  const { stimulus, clock } = deps
  const sweep = sweepPlanFor(plan)
  const { x, y } = step.picture
  await stimulus.prepare(sweep, signal, { patches: [y], sensor: y })
  await stimulus.holdAt({ x, y, degrees: 0 })
  const changer = createLevelChanger(stimulus, clock, sweep)
  const bright = Math.max(plan.from, plan.to)
  const askedAt = clock.now()
  const log = await changer.change(bright, signal)
  const answeredAt = clock.now()
  await clock.sleep(sweep.ladderSettleS, signal)
  const steady = await recordSteady(deps, plan, sweep, signal)
  refuseClipped(steady.trace)
  const { trace } = steady
  const volts = Float64Array.from(trace.samples, (code) => code * trace.scaleV + trace.offsetV)
  const darkV = dark ?? darkestOf(volts)
  const found = await deps.light({ trace, first: 0, end: trace.samples.length, darkV })
  const pulseHz = found.values.fundamental_hz
  const perFrame = pulseHz === null ? 0 : pulseHz / plan.refreshHz
  if (pulseHz === null || perFrame < 0.99 || Math.abs(perFrame / Math.round(perFrame) - 1) > 0.01)
    throw new AppError(
      'rig-unsuitable',
      pulseHz === null
        ? 'The light does not pulse here.'
        : `The light repeats at ${pulseHz.toFixed(2)} Hz, which is no multiple of the refresh rate of ${plan.refreshHz} Hz.`,
      'Switch strobing on, check setting and refresh rate, then read again; or skip this place.',
    )
  const light = volts.map((one) => one - darkV)
  const frame = steady.frameStartS ?? frameStart(log, { askedAt, answeredAt, startedAt: steady.startedAt })
  const pulse = strobePulse(light, trace.sampleRateHz, pulseHz, plan.refreshHz, frame?.atS ?? null, frame?.uS)
  if (pulse === null)
    throw new AppError(
      'rig-unsuitable',
      'The record holds no pulse that can be read.',
      'Aim the sensor, then read again.',
    )
  const rise = await crosstalk(deps, plan, sweep, changer, signal)
  const notes = [
    ...(dark === null ? ['The dark level was not measured: the dark between the pulses is taken for it.'] : []),
    ...(pulse.pulsesPerFrame > 1 ? [`${pulse.pulsesPerFrame} pulses a frame; width and duty are of one.`] : []),
    ...(pulse.phaseMs === null
      ? [
          'Phase not known: neither a frame signal at the rig’s trigger input nor frame times that tell it to an eighth of a frame.',
        ]
      : []),
  ]
  const value = (quantity: string, unit: string, estimate: { value: number; u: number | null } | null): GuidedValue[] =>
    estimate === null ? [] : [{ quantity, unit, value: estimate.value, u: estimate.u }]
  return {
    values: [
      ...value('pulse_width', 'ms', pulse.widthMs),
      ...value('phase', 'ms', pulse.phaseMs),
      ...value('duty', '%', pulse.dutyPct),
      ...value('crosstalk', '%', rise.up),
      ...value('crosstalk_fall', '%', rise.down),
    ],
    source: deps.rigIdentity(),
    note: notes.join(' '),
  }
}

/** Median of the darkest tenth: what glows between pulses counts as dark, and noise does not lower it much. */
function darkestOf(volts: Float64Array): number {
  const tenth = Float64Array.from(volts)
    .sort()
    .subarray(0, Math.max(1, Math.floor(volts.length / 10)))
  return tenth[tenth.length >> 1] as number
}

interface FrameStart {
  /** From the record's first sample, s. */
  readonly atS: number
  readonly uS: number
}

async function recordSteady(
  { rig, clock }: ReadDeps,
  { frameSignal }: GuidedPlan,
  sweep: SweepPlan,
  signal: AbortSignal,
): Promise<{
  readonly trace: RawTrace
  readonly startedAt: readonly [number, number]
  readonly frameStartS: FrameStart | null
}> {
  const digitizer = rig.digitizer()
  const { sampleRateHz, rangeV, transfer } = sweep
  const points = Math.round(STEADY_S * sampleRateHz)
  const source = frameSignal ? 'external' : 'bus'
  await digitizer.configure(
    { sampleRateHz, rangeV, transfer, points, preTriggerPoints: 0, trigger: { source }, triggerWaitS: 2 },
    signal,
  )
  try {
    await digitizer.arm(signal)
    const before = clock.now()
    if (!frameSignal) await digitizer.trigger()
    const after = clock.now()
    const { trace, triggerIndex } = await digitizer.read(signal)
    const frameStartS = frameSignal ? { atS: triggerIndex / sampleRateHz, uS: 0 } : null
    return { trace, startedAt: [before, after], frameStartS }
  } catch (error) {
    await digitizer.abort().catch(() => undefined)
    throw error
  }
}

/**
 * A frame's start by the display's own log, where its clock is seen to be the host's: the switch then lies between asking
 * and answering. A page's times are of another clock, and when its answer comes says nothing to a part of a frame.
 */
function frameStart(
  { source, switchMs, frameMs }: FrameLog,
  at: { readonly askedAt: number; readonly answeredAt: number; readonly startedAt: readonly [number, number] },
): FrameStart | null {
  const frameS = switchMs / 1000
  if (source !== 'controller' || frameMs === null || frameS < at.askedAt || frameS > at.answeredAt) return null
  const [before, after] = at.startedAt
  const uS = (after - before) / Math.sqrt(12)
  // The record began somewhere between sending the trigger and its being sent.
  return uS > frameMs / 1000 / 8 ? null : { atS: frameS - (before + after) / 2, uS }
}

/** First-pulse crosstalk of steps between the plan's levels, each direction apart. */
async function crosstalk(
  deps: ReadDeps,
  plan: GuidedPlan,
  sweep: SweepPlan,
  changer: ReturnType<typeof createLevelChanger>,
  signal: AbortSignal,
): Promise<{
  readonly up: { value: number; u: number | null } | null
  readonly down: { value: number; u: number | null } | null
}> {
  const { clock, measure, recipe } = deps
  const [low, high] = [Math.min(plan.from, plan.to), Math.max(plan.from, plan.to)]
  const found: Record<'up' | 'down', { readonly value: number; readonly u: number }[]> = { up: [], down: [] }
  for (let i = 0; i < 2 * plan.repeats; i++) {
    const [direction, from, to] = i % 2 === 0 ? (['down', high, low] as const) : (['up', low, high] as const)
    // One step after the other, from rest.
    // oxlint-disable no-await-in-loop
    if (changer.level !== from) await changer.change(from, signal)
    await clock.sleep(sweep.ladderSettleS, signal)
    const { recording } = await recordTransition(
      { digitizer: deps.rig.digitizer(), changer, clock },
      sweep,
      { from, to },
      { source: 'bus' },
      signal,
    )
    const { trace, triggerIndex } = recording
    const { values, uncertainties } = await measure({
      trace,
      triggerIndex,
      from,
      to,
      refreshHz: plan.refreshHz,
      ladder: null,
      edgeAtTrigger: false,
      recipe: recipe(),
    })
    // oxlint-enable no-await-in-loop
    const value = values.first_pulse_crosstalk_pct
    if (value !== null) found[direction].push({ value, u: uncertainties.first_pulse_crosstalk_pct ?? 0 })
  }
  const pooled = (list: readonly { readonly value: number; readonly u: number }[]) => {
    const { n, mean, s } = meanSd(list.map(({ value }) => value))
    if (mean === null) return null
    const own = Math.sqrt(list.reduce((sum, { u }) => sum + u * u, 0)) / n
    return { value: mean, u: Math.max(own, (s ?? 0) / Math.sqrt(n)) }
  }
  return { up: pooled(found.up), down: pooled(found.down) }
}
