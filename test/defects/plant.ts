/** Draws the strength of a defect for one transition; null where that transition cannot show it (see KINDS). */
import type { Random } from '#main/rig/simulated/optics/noise.ts'
import { PWM_FLOOR } from '#main/rig/simulated/panel/backlight.ts'
import { lightAt } from '../simulated/panel-at.ts'
import { showLevel, type Display } from '#main/rig/simulated/panel/display.ts'
import { codeOf, luminanceOf, PANELS } from '#main/rig/simulated/panel/panels.ts'
import type { Transition } from '#shared/domain/plan.ts'
import type { DefectKind } from './kinds.ts'
import { ALLOWANCE_S, between, displayAt, pick, ratioBetween, ripplePeriodS, type Setup } from './setups.ts'

export type Defect =
  | { readonly kind: 'clipped'; readonly cut: number }
  | { readonly kind: 'drifted'; readonly share: number }
  | { readonly kind: 'double-step'; readonly via: number; readonly frames: number }
  | { readonly kind: 'short-dwell'; readonly left: number; readonly afterDriveS: number }
  | { readonly kind: 'hum'; readonly hz: number; readonly share: number; readonly phase: number }
  | { readonly kind: 'dropped-samples'; readonly how: 'held' | 'twice'; readonly at: number; readonly count: number }
  | { readonly kind: 'dropped-samples'; readonly how: 'cut'; readonly fromS: number; readonly toS: number }
  | {
      readonly kind: 'dropped-samples'
      readonly how: 'cut-ripple'
      readonly at: number
      readonly count: number
    }
  | { readonly kind: 'wrong-pair'; readonly side: 'from' | 'to'; readonly level: number }
  | { readonly kind: 'dropped-frame'; readonly frames: number }
  | { readonly kind: 'saturation'; readonly low: number; readonly slope: number }
  | { readonly kind: 'outlier'; readonly factor: number }

export function drawDefect(kind: DefectKind, setup: Setup, pair: Transition, next: Random): Defect | null {
  switch (kind) {
    case 'clipped':
      return { kind, cut: ratioBetween(next, 0.02, 0.4) }
    case 'drifted':
      return { kind, share: ratioBetween(next, 0.06, 0.4) * pick(next, [-1, 1]) }
    case 'double-step':
      return drawDoubleStep(setup, pair, next)
    case 'short-dwell':
      return drawShortDwell(setup, pair, next)
    case 'hum':
      return drawHum(setup, next)
    case 'dropped-samples':
      return drawDroppedSamples(setup, pair, next)
    case 'wrong-pair': {
      const others = setup.plan.levels.filter((level) => level !== pair.from && level !== pair.to)
      return { kind, side: pick(next, ['from', 'to'] as const), level: pick(next, others) }
    }
    case 'dropped-frame':
      return setup.bus ? { kind, frames: pick(next, [1, 2]) } : null
    case 'saturation':
      if (Math.max(pair.from, pair.to) < 153) return null
      return { kind, low: ratioBetween(next, 0.04, 0.3), slope: between(next, 0, 0.6) }
    case 'outlier':
      break
  }
  const factor = ratioBetween(next, 1.15, 2)
  return { kind, factor: next() < 0.5 ? factor : 1 / factor }
}

/** Share of the step done at times from the change of drive, every `stepS` for 0.2 s; backlight taken as steady. */
function soundResponse(setup: Setup, pair: Transition, stepS: number): { done: Float64Array; display: Display } {
  const { display } = showLevel(displayAt(setup, pair.from, 0), pair.to, 0.5 / setup.plan.refreshHz)
  const start = luminanceOf(display.panel, pair.from)
  const step = luminanceOf(display.panel, pair.to) - start
  const zero = display.segments[1]?.startS ?? 0
  const done = new Float64Array(Math.round(0.2 / stepS))
  for (let i = 0; i < done.length; i++) done[i] = (lightAt(display.segments, zero + i * stepS) - start) / step
  return { done, display }
}

function firstAtLeast(done: Float64Array, share: number): number {
  const i = done.findIndex((value) => value >= share)
  return i < 0 ? done.length : i
}

const STEP_S = 2e-5

function drawDoubleStep(setup: Setup, pair: Transition, next: Random): Defect {
  const { done, display } = soundResponse(setup, pair, STEP_S)
  const durationS = (firstAtLeast(done, 0.9) - firstAtLeast(done, 0.1)) * STEP_S
  const { refreshHz } = setup.plan
  const leastS = Math.max(durationS, 2 * ripplePeriodS(setup))
  // Overdrive has the first frame to itself: a level held for one frame is never driven, only boosted away from.
  const least = Math.max(setup.setting === 'Off' ? 1 : 2, Math.ceil(leastS * refreshHz))
  const frames = Math.max(least, Math.floor(leastS * between(next, 1, 4) * refreshHz))
  const start = luminanceOf(display.panel, pair.from)
  const step = luminanceOf(display.panel, pair.to) - start
  return { kind: 'double-step', via: codeOf(display.panel, start + between(next, 0.3, 0.7) * step), frames }
}

function drawShortDwell(setup: Setup, pair: Transition, next: Random): Defect | null {
  const { done } = soundResponse(setup, pair, STEP_S)
  const left = ratioBetween(next, 0.03, 0.2)
  let i = done.length - 1
  while (i > 0 && Math.abs((done[i] as number) - 1) < left) i--
  const afterDriveS = i * STEP_S
  // Modulated light is a step only when it is seen for a few of its periods.
  if (afterDriveS < 3 * ripplePeriodS(setup)) return null
  return { kind: 'short-dwell', left, afterDriveS }
}

/** Samples cut out in modulated light that is bright enough to be seen: its phase jumps, unless whole periods are missing. */
function drawRippleCut(setup: Setup, pair: Transition, next: Random): Defect | null {
  const { plan } = setup
  const periodS = ripplePeriodS(setup)
  const points = Math.round((plan.preS + plan.postS + ALLOWANCE_S) * plan.sampleRateHz)
  const count = Math.round(ratioBetween(next, 25, 1500))
  const turns = count / plan.sampleRateHz / periodS
  if (Math.abs(turns - Math.round(turns)) < 0.1) return null
  const at = Math.floor(between(next, 200, points - count - 200))
  const level = at < (plan.preS + 1 / plan.refreshHz) * plan.sampleRateHz ? pair.from : pair.to
  const swing = setup.simulation.whiteV * luminanceOf(PANELS[setup.simulation.panel], level) * (1 - PWM_FLOOR)
  if (swing < 15 * setup.simulation.noiseV) return null
  return { kind: 'dropped-samples', how: 'cut-ripple', count, at }
}

function drawHum(setup: Setup, next: Random): Defect {
  const explained = (hz: number): boolean => {
    const { refreshHz } = setup.plan
    return [hz / refreshHz, refreshHz / hz].some(
      (ratio) => Math.round(ratio) >= 1 && Math.abs(ratio - Math.round(ratio)) < 0.02,
    )
  }
  const hz = pick(
    next,
    [50, 60, 100, 120].filter((line) => !explained(line)),
  )
  return { kind: 'hum', hz, share: ratioBetween(next, 0.01, 0.1), phase: 2 * Math.PI * next() }
}

function drawDroppedSamples(setup: Setup, pair: Transition, next: Random): Defect | null {
  const { plan, simulation } = setup
  const how = pick(next, ['held', 'twice', 'cut'] as const)
  if (how !== 'cut') {
    // Without noise equal samples are nothing strange.
    if (simulation.noiseV < (plan.rangeV * 2) / 2 ** simulation.bits) return null
    const points = Math.round((plan.preS + plan.postS + (setup.bus ? ALLOWANCE_S : 0)) * plan.sampleRateHz)
    const count = Math.round(how === 'held' ? ratioBetween(next, 25, 1500) : ratioBetween(next, 64, 1000))
    return { kind: 'dropped-samples', how, count, at: Math.floor(between(next, 100, points - 2 * count - 100)) }
  }
  if (setup.bus) return drawRippleCut(setup, pair, next)
  const { done, display } = soundResponse(setup, pair, STEP_S)
  const share = between(next, 0.1, 0.6)
  const from = between(next, 0.05, 0.95 - share)
  const stepV =
    Math.abs(luminanceOf(display.panel, pair.to) - luminanceOf(display.panel, pair.from)) * simulation.whiteV
  const fromS = firstAtLeast(done, from) * STEP_S
  const toS = firstAtLeast(done, from + share) * STEP_S
  const samples = (toS - fromS) * plan.sampleRateHz
  // A jump is one only against the noise, and against what the step itself does from sample to sample.
  if (share * stepV < 15 * simulation.noiseV || samples < 8) return null
  return { kind: 'dropped-samples', how, fromS, toS }
}

/** Text of a planted defect, for the campaign's log. */
export function describe(defect: Defect): string {
  const { kind, ...strength } = defect
  const numbers = Object.entries(strength).map(
    ([name, value]) => `${name} ${typeof value === 'number' ? Number(value.toPrecision(4)) : value}`,
  )
  return `${kind}: ${numbers.join(', ')}`
}
