/**
 * One capture of the simulated display as the bench would make it, sound or with one defect. Repeats differ by what
 * differs on a real bench too, all of it below what counts as a defect: phase of frame and backlight, noise (±10 %),
 * 0.2 % (1 σ) of light, 0.05 % of light and 0.1 mV of offset drifting evenly through the record, a little mains pick-up,
 * and 0.3 % of response time.
 */
import { stretched } from '#main/rig/simulated/demo-bench.ts'
import { addNoise, random, type Random } from '#main/rig/simulated/optics/noise.ts'
import { addDetectorNoise, voltsOf } from '#main/rig/simulated/optics/photodiode.ts'
import { showLevel, type Display } from '#main/rig/simulated/panel/display.ts'
import { codesOf, crossing, traceOf } from '#main/rig/simulated/records.ts'
import type { FrameLog, RawTrace } from '#shared/domain/capture.ts'
import type { MeasureInput } from '#shared/domain/measure-input.ts'
import type { WalkStep } from '#shared/domain/walk.ts'
import type { Defect } from './plant.ts'
import { ALLOWANCE_S, between, displayAt, frameLogOf, normal, ripplePeriodS, type Setup } from './setups.ts'

export interface MadeCapture {
  readonly step: WalkStep
  readonly defect: Defect | null
  readonly trace: RawTrace
  readonly triggerIndex: number
  readonly edgeAtTrigger: boolean
  readonly frameLog: FrameLog
}

/** Longest an edge may lag its frame, s: what a level trigger looks through. */
const SEARCH_S = 0.1

export function makeCapture(setup: Setup, step: WalkStep, defect: Defect | null): MadeCapture {
  const next = random(setup.seed, setup.simulation.seed, step.position + 1)
  const shown = showStep(setup, step, defect, next)
  const light = stretched(shown.display, (1 + 0.003 * normal(next)) * (defect?.kind === 'outlier' ? defect.factor : 1))
  const gain = 1 + 0.002 * normal(next)
  const wandering: Wandering = { light: 0.0005 * normal(next), offsetV: 0.0001 * normal(next), phase: next() }
  const { plan, photodiode, simulation } = setup
  const dt = 1 / plan.sampleRateHz
  const pre = Math.round(plan.preS * plan.sampleRateHz)
  const points = pre + Math.round(plan.postS * plan.sampleRateHz)
  const look = (startS: number, count: number, recordS: number): Float64Array => {
    const lit = { ...photodiode, whiteV: photodiode.darkV + (photodiode.whiteV - photodiode.darkV) * gain }
    const volts = voltsOf(lit, light, startS, dt, count, null)
    wander(volts, setup, wandering, startS, recordS)
    spoilVolts(volts, setup, step, defect, startS, recordS, next)
    return volts
  }
  let volts: Float64Array | null = null
  let startS = 0
  let triggerIndex = 0
  if (!setup.bus) {
    startS = shown.expectedS - plan.preS - next() * dt
    const all = look(startS, points + Math.round(SEARCH_S * plan.sampleRateHz) + 2000, plan.preS + plan.postS)
    const at = crossing(all, midOf(setup, step), step.to > step.from, pre)
    if (at !== null) {
      startS += (at - pre) * dt
      volts = all.subarray(at - pre)
      triggerIndex = pre
    }
  }
  // No edge for the level trigger: the program takes the capture once more, recording at once.
  const edgeAtTrigger = volts !== null
  if (volts === null) {
    startS = shown.askedS - plan.preS + between(next, 0.0002, 0.001)
    const recordS = plan.preS + plan.postS + ALLOWANCE_S
    volts = look(startS, points + Math.round(ALLOWANCE_S * plan.sampleRateHz) + 2000, recordS)
  }
  if (defect?.kind === 'dropped-samples' && defect.how === 'cut') {
    const index = (s: number): number => Math.ceil((shown.driveS + s - startS) / dt)
    volts = without(volts, index(defect.fromS), index(defect.toS))
  }
  if (defect?.kind === 'dropped-samples' && defect.how === 'cut-ripple')
    volts = without(volts, defect.at, defect.at + defect.count)
  volts = volts.slice(0, edgeAtTrigger ? points : points + Math.round(ALLOWANCE_S * plan.sampleRateHz))
  if (defect?.kind === 'short-dwell')
    volts = volts.slice(0, Math.max(16, Math.round((shown.driveS + defect.afterDriveS - startS) / dt)))
  const rangeV = defect?.kind === 'clipped' ? railOf(volts, defect.cut) : plan.rangeV
  addDetectorNoise(photodiode, volts, dt, null, next)
  addNoise(volts, simulation.noiseV * between(next, 0.9, 1.1), next)
  const samples = codesOf(volts, rangeV, simulation.bits)
  if (defect?.kind === 'dropped-samples' && (defect.how === 'held' || defect.how === 'twice'))
    loseSamples(samples, defect)
  const clean = frameLogOf(shown.display.clock, shown.expectedS)
  return {
    step,
    defect,
    trace: traceOf(samples, plan.sampleRateHz, rangeV),
    triggerIndex,
    edgeAtTrigger,
    frameLog: edgeAtTrigger
      ? clean
      : { ...clean, sinceTriggerS: shown.expectedS - shown.askedS + plan.preS + between(next, 0, 0.001) },
  }
}

export function inputOf(setup: Setup, made: MadeCapture): MeasureInput {
  const { plan, ladder, recipe } = setup
  return {
    trace: made.trace,
    triggerIndex: made.triggerIndex,
    from: made.step.from,
    to: made.step.to,
    refreshHz: plan.refreshHz,
    ladder,
    edgeAtTrigger: made.edgeAtTrigger,
    recipe,
  }
}

interface Shown {
  readonly display: Display
  /** When the host asked for the level, when the stimulus says it switched, when the middle row's drive changed, s. */
  readonly askedS: number
  readonly expectedS: number
  readonly driveS: number
}

function showStep(setup: Setup, step: WalkStep, defect: Defect | null, next: Random): Shown {
  const periodS = 1 / setup.plan.refreshHz
  const wrong = defect?.kind === 'wrong-pair' ? defect : null
  const from = wrong?.side === 'from' ? wrong.level : step.from
  const to = wrong?.side === 'to' ? wrong.level : step.to
  const rest = displayAt(setup, from, next())
  const askedS = (0.5 + next()) * periodS
  const late = defect?.kind === 'dropped-frame' ? defect.frames * periodS : 0
  const first = showLevel(rest, defect?.kind === 'double-step' ? defect.via : to, askedS + late)
  const { display } =
    defect?.kind === 'double-step' ? showLevel(first.display, to, askedS + defect.frames * periodS) : first
  return { display, askedS, expectedS: first.frameS - late, driveS: first.display.segments[1]?.startS ?? 0 }
}

function midOf(setup: Setup, step: WalkStep): number {
  return (ladderV(setup, step.from) + ladderV(setup, step.to)) / 2
}

function ladderV(setup: Setup, level: number): number {
  const step = setup.ladder.steps.find((one) => one.level === level)
  if (!step) throw new RangeError(`level ${level} is not in the ladder`)
  return step.meanV
}

/** What every record carries: drift of light (share of it) and offset through one record, phase of the mains. */
interface Wandering {
  readonly light: number
  readonly offsetV: number
  readonly phase: number
}

function wander(
  volts: Float64Array,
  setup: Setup,
  { light, offsetV, phase }: Wandering,
  startS: number,
  recordS: number,
): void {
  const { plan, photodiode, mains } = setup
  const dt = 1 / plan.sampleRateHz
  const turn = 2 * Math.PI * mains.hz
  for (let i = 0; i < volts.length; i++) {
    const share = (i * dt) / recordS - 0.5
    const lit = (volts[i] as number) - photodiode.darkV
    const pickedUp = (mains.peakToPeakV / 2) * Math.sin(turn * (startS + i * dt) + 2 * Math.PI * phase)
    volts[i] = photodiode.darkV + lit * (1 + light * share) + offsetV * share + pickedUp
  }
}

/** Defects between light and converter, in place. */
function spoilVolts(
  volts: Float64Array,
  setup: Setup,
  step: WalkStep,
  defect: Defect | null,
  startS: number,
  recordS: number,
  next: Random,
): void {
  if (defect === null) return
  const { plan } = setup
  const stepV = Math.abs(ladderV(setup, step.to) - ladderV(setup, step.from))
  const dt = 1 / plan.sampleRateHz
  if (defect.kind === 'hum') {
    for (let i = 0; i < volts.length; i++)
      volts[i] =
        (volts[i] as number) +
        (defect.share / 2) * stepV * Math.sin(2 * Math.PI * defect.hz * (startS + i * dt) + defect.phase)
  } else if (defect.kind === 'drifted') {
    // No drift at a random moment of the record: the detector's offset was right when it was set.
    const rightS = next() * recordS
    for (let i = 0; i < volts.length; i++)
      volts[i] = (volts[i] as number) + defect.share * stepV * ((i * dt - rightS) / recordS)
  } else if (defect.kind === 'saturation') {
    const knee = kneeOf(setup, Math.max(step.from, step.to), defect)
    for (let i = 0; i < volts.length; i++) {
      const over = (volts[i] as number) - knee
      if (over > 0) volts[i] = knee + defect.slope * over
    }
  }
}

/** Knee above which the detector gives only `slope` of the light, so that a level at rest reads `low` lower on average. */
function kneeOf(setup: Setup, level: number, { low, slope }: { low: number; slope: number }): number {
  const { photodiode, plan } = setup
  const dt = 1 / plan.sampleRateHz
  const count = Math.max(1, Math.round((20 * ripplePeriodS(setup)) / dt))
  const volts = voltsOf(photodiode, displayAt(setup, level, 0), 0.5, dt, count, null)
  const mean = volts.reduce((sum, v) => sum + v - photodiode.darkV, 0)
  const lost = (knee: number): number => volts.reduce((sum, v) => sum + (1 - slope) * Math.max(0, v - knee), 0) / mean
  let under = photodiode.darkV
  let over = volts.reduce((a, b) => Math.max(a, b), 0)
  for (let i = 0; i < 40; i++) {
    const knee = (under + over) / 2
    if (lost(knee) > low) under = knee
    else over = knee
  }
  return over
}

function without(volts: Float64Array, first: number, end: number): Float64Array {
  const kept = new Float64Array(volts.length - (end - first))
  kept.set(volts.subarray(0, first))
  kept.set(volts.subarray(end), first)
  return kept
}

function railOf(volts: Float64Array, cut: number): number {
  let low = Infinity
  let high = -Infinity
  for (const v of volts) {
    low = Math.min(low, v)
    high = Math.max(high, v)
  }
  return high - cut * (high - low)
}

function loseSamples(samples: Int16Array, defect: { how: 'held' | 'twice'; at: number; count: number }): void {
  const { at, count } = defect
  if (defect.how === 'held') samples.fill(samples[at] as number, at, at + count)
  else samples.copyWithin(at + count, at, samples.length - count)
}
