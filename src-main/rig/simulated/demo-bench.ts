/**
 * A simulated bench without time: records of single transitions and a ladder, straight from the display and detector
 * model, as the instrument would hand them over. What differs between repeats on a real bench differs here too: the phase
 * of frame and backlight, 0.2 % (1 σ) of light, 0.3 % of response time, and the noise.
 */
import { plateauOf, STIMULUS_ALLOWANCE_S, triggerFor } from '#main/core/record.ts'
import type { DemoBench, DemoRecord, DemoSource, Mishap } from '#main/core/demo/demo-bench.ts'
import type { Ladder } from '#shared/domain/capture.ts'
import type { SweepPlan } from '#shared/domain/plan.ts'
import { SIM_SETTINGS, simulationSchema } from '#shared/domain/rig.ts'
import type { WalkStep } from '#shared/domain/walk.ts'
import { frameLogOf } from './frame-log.ts'
import { addNoise, random, type Random } from './optics/noise.ts'
import { addDetectorNoise, photodiodeOf, voltsOf } from './optics/photodiode.ts'
import { createDisplay, showLevel, type Display } from './panel/display.ts'
import { codesOf, crossing, traceOf } from './records.ts'

const BITS = 16
/** Longest an edge may lag its frame, s: what the level trigger looks through. */
const SEARCH_S = 0.1

export function createDemoBench(source: DemoSource, plan: SweepPlan, takenAt: string): DemoBench {
  const simulation = simulationSchema.parse({ ...source, noiseV: 0.0015, detectorHz: 8000 })
  const photodiode = photodiodeOf(simulation)
  const setting = SIM_SETTINGS.find((name) => plan.setting.startsWith(name)) ?? 'Off'
  const dt = 1 / plan.sampleRateHz
  const ladder = ladderOf()

  function restingAt(level: number, pwmPhase: number): Display {
    const { panel, backlight, pwmHz, glow } = simulation
    const { refreshHz } = plan
    return createDisplay({
      panel,
      backlight,
      pwmHz,
      glow,
      brightness: 0.6,
      refreshHz,
      setting,
      row: 0.5,
      level,
      startS: 0,
      pwmPhase,
    })
  }

  function noisy(volts: Float64Array, next: Random): Float64Array {
    addDetectorNoise(photodiode, volts, dt, null, next)
    addNoise(volts, simulation.noiseV, next)
    return volts
  }

  function ladderOf(): Ladder {
    const next = random(simulation.seed, plan.seed)
    const count = Math.round(plan.ladderS * plan.sampleRateHz)
    const steps = plan.levels.map((level) => {
      const volts = noisy(voltsOf(photodiode, restingAt(level, next()), 0.5, dt, count, null), next)
      const trace = traceOf(codesOf(volts, plan.rangeV, BITS), plan.sampleRateHz, plan.rangeV)
      return { level, ...plateauOf(trace, plan.refreshHz) }
    })
    return { steps, darkV: null, takenAt }
  }

  function record(step: WalkStep, mishap: Mishap | null): DemoRecord {
    const next = random(simulation.seed, plan.seed, step.position + 1)
    const askedS = (0.5 + next()) / plan.refreshHz
    const rest = restingAt(step.from, next())
    const first = showLevel(rest, mishap === 'double-step' ? between(step) : step.to, askedS)
    const shown =
      mishap === 'double-step' ? showLevel(first.display, step.to, askedS + 1 / plan.refreshHz).display : first.display
    const light = stretched(shown, (1 + 0.003 * normal(next)) * (mishap === 'slow' ? 1.35 : 1))
    const gain = 1 + 0.002 * normal(next)
    const lit = { ...photodiode, whiteV: photodiode.darkV + (photodiode.whiteV - photodiode.darkV) * gain }
    const pre = Math.round(plan.preS * plan.sampleRateHz)
    const trigger = triggerFor(plan, step, ladder)
    const post = Math.round((plan.postS + (trigger.source === 'level' ? 0 : STIMULUS_ALLOWANCE_S)) * plan.sampleRateHz)
    const points = pre + post
    let volts: Float64Array
    let startS = first.frameS - plan.preS - next() * dt
    let sinceTriggerS: number | null = null
    if (trigger.source === 'level') {
      const all = voltsOf(lit, light, startS, dt, points + Math.round(SEARCH_S * plan.sampleRateHz), null)
      const at = crossing(all, trigger.levelV, trigger.slope === 'rising', pre) ?? pre
      startS += (at - pre) * dt
      volts = all.slice(at - pre, at - pre + points)
    } else {
      startS = askedS - plan.preS - 0.0005
      sinceTriggerS = first.frameS - startS + 0.0005 * next()
      volts = voltsOf(lit, light, startS, dt, points, null)
    }
    if (mishap === 'hum') addMains(volts, Math.abs(volts.at(-1)! - volts[0]!), startS)
    noisy(volts, next)
    if (mishap === 'clipped') clip(volts)
    const samples = codesOf(volts, plan.rangeV, BITS)
    if (mishap === 'held') samples.fill(samples[pre - 1]!, pre - 1, pre + Math.round(0.0015 * plan.sampleRateHz))
    const log = frameLogOf(light.clock, first.frameS)
    return {
      trace: traceOf(samples, plan.sampleRateHz, plan.rangeV),
      triggerIndex: trigger.source === 'level' ? pre : 0,
      frameLog: sinceTriggerS === null ? log : { ...log, sinceTriggerS },
    }
  }

  /** A level about half-way, as when the stimulus showed a step in two. */
  function between({ from, to }: WalkStep): number {
    return Math.round(from + 0.5 * (to - from))
  }

  /** Mains pick-up of 4 % of the step, peak to peak. */
  function addMains(volts: Float64Array, stepV: number, startS: number): void {
    for (let i = 0; i < volts.length; i++)
      volts[i] = (volts[i] as number) + 0.02 * stepV * Math.sin(2 * Math.PI * 50 * (startS + i * dt))
  }

  return { ladder, record }
}

/** The same light on another time scale, about the first change of drive. */
export function stretched(display: Display, factor: number): Display {
  const zero = display.segments[1]?.startS ?? 0
  const segments = display.segments.map((segment) => ({
    ...segment,
    startS: segment.startS <= zero ? segment.startS : zero + (segment.startS - zero) * factor,
    tau1: segment.tau1 * factor,
    tau2: segment.tau2 * factor,
  }))
  return { ...display, segments }
}

/** An amplifier at its limit: nothing above 96 % of the record's span gets through. */
function clip(volts: Float64Array): void {
  const low = volts.reduce((a, b) => Math.min(a, b), Infinity)
  const high = volts.reduce((a, b) => Math.max(a, b), -Infinity)
  const rail = low + 0.96 * (high - low)
  for (let i = 0; i < volts.length; i++) volts[i] = Math.min(rail, volts[i] as number)
}

/** Standard normal. */
function normal(next: Random): number {
  return Math.sqrt(-2 * Math.log(1 - next())) * Math.cos(2 * Math.PI * next())
}
