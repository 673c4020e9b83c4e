/** Sweeps of a simulated archive: an invented display, a detector, a plan and its ladder, all from one seed. */
import { plateauOf } from '#main/core/record.ts'
import { frameLogOf } from '#main/rig/simulated/frame-log.ts'
import { addNoise, random, type Random } from '#main/rig/simulated/optics/noise.ts'
import { photodiodeOf, voltsOf, type Photodiode } from '#main/rig/simulated/optics/photodiode.ts'
import { createDisplay, type Display } from '#main/rig/simulated/panel/display.ts'
import { codesOf, traceOf } from '#main/rig/simulated/records.ts'
import type { Ladder, LadderStep } from '#shared/domain/capture.ts'
import { LEVEL_PRESETS, sweepPlanSchema, type SweepPlan } from '#shared/domain/plan.ts'
import { RECIPE_PRESETS, recipeSchema, type Recipe } from '#shared/domain/recipe.ts'
import { PANEL_IDS, SIM_SETTINGS, simulationSchema, type SimSetting, type Simulation } from '#shared/domain/rig.ts'

export { frameLogOf }

export interface Setup {
  readonly seed: number
  readonly simulation: Simulation
  readonly photodiode: Photodiode
  readonly setting: SimSetting
  readonly brightness: number
  readonly plan: SweepPlan
  readonly recipe: Recipe
  readonly ladder: Ladder
  /** The ripple of the plateaus leaves no room for a level trigger: records start with a bus trigger. */
  readonly bus: boolean
  /** Mains pick-up that every record of the sweep carries, below what counts as a defect. */
  readonly mains: { readonly hz: 50 | 60; readonly peakToPeakV: number }
}

const REFRESH_HZ = [48, 60, 75, 120, 144, 165, 240] as const
const STROBE_HZ = REFRESH_HZ.slice(1)
const PWM_HZ = [240, 480, 960, 2000] as const
export const REPEATS = 5
/** Longest time a rig with a bus trigger waits for the change on top of the plan, s; the program's own allowance. */
export const ALLOWANCE_S = 0.15

/** Modulated light is measured through the mean over one of its periods, steady light as it is. */
const AVERAGING: Recipe = recipeSchema.parse({
  name: 'Mean over one ripple period',
  condition: { kind: 'one-period-mean', frequencyHz: null, periods: 1 },
})
/** Recipes of steady sweeps: half of them the default, the others spread over all presets. */
const STEADY_RECIPES: readonly Recipe[] = [
  ...RECIPE_PRESETS.slice(1).map(() => RECIPE_PRESETS[0]!),
  ...RECIPE_PRESETS.slice(1),
]

/** Most mains pick-up of a sound record, of its sweep's smallest step: what is more is hum. */
const MAINS_SHARE = 0.0035

export function pick<T>(next: Random, list: readonly T[]): T {
  return list[Math.min(list.length - 1, Math.floor(next() * list.length))] as T
}

export function between(next: Random, low: number, high: number): number {
  return low + (high - low) * next()
}

/** Evenly spread in the logarithm. */
export function ratioBetween(next: Random, low: number, high: number): number {
  return low * Math.pow(high / low, next())
}

/** Standard normal. */
export function normal(next: Random): number {
  return Math.sqrt(-2 * Math.log(1 - next())) * Math.cos(2 * Math.PI * next())
}

/** The sweep of a number within an archive of a seed: 60 % steady, 28 % pulse-width modulated, 12 % strobed light. */
export function setupOf(seed: number, number: number): Setup {
  const next = random(seed, 4001, number)
  const draw = next()
  const backlight = draw < 0.6 ? 'steady' : draw < 0.88 ? 'pwm' : 'strobe'
  const modulated = backlight !== 'steady'
  const refreshHz = pick(next, backlight === 'strobe' ? STROBE_HZ : REFRESH_HZ)
  const setting = pick(next, SIM_SETTINGS)
  const simulation = simulationSchema.parse({
    panel: pick(next, PANEL_IDS),
    backlight,
    pwmHz: pick(next, PWM_HZ),
    seed: Math.floor(next() * 2 ** 31),
    noiseV: ratioBetween(next, 0.0005, 0.003),
    // Shot noise of the detector before its bandwidth, and 1/f: white noise is the converter's.
    photocurrentA: ratioBetween(next, 1e-7, 1e-5),
    flickerV: ratioBetween(next, 2e-5, 3e-4),
    // Slower in front of modulated light: without it the energy of a pulse would depend on where the samples fall.
    detectorHz: modulated ? ratioBetween(next, 1500, 8000) : ratioBetween(next, 10_000, 100_000),
    whiteV: between(next, 2, 4.3),
    darkV: between(next, 0, 0.05),
    bits: pick(next, [12, 14, 16]),
  })
  const plan = sweepPlanSchema.parse({
    setting,
    refreshHz,
    levels: [...LEVEL_PRESETS['six equal codes']],
    repeats: REPEATS,
    seed: Math.floor(next() * 2 ** 31),
    // 15,000 samples either way (with a bus trigger the allowance on top). A strobe needs pulses before the edge.
    preS: backlight === 'strobe' ? 0.1 : 0.05,
    postS: backlight === 'strobe' ? 0.15 : modulated ? 0.2 : 0.25,
    spacingS: 0.35,
    sampleRateHz: modulated ? 37_500 : 50_000,
    rangeV: 5,
    trigger: modulated ? 'bus' : 'level',
  })
  const brightness = between(next, 0.4, 0.8)
  const photodiode = photodiodeOf(simulation)
  const mains = { hz: pick(next, [50, 60] as const), peakToPeakV: ratioBetween(next, 2e-5, 2e-4) }
  const draft = { seed, simulation, photodiode, setting, brightness, plan, bus: modulated, mains }
  const recipe = modulated ? AVERAGING : pick(next, STEADY_RECIPES)
  const ladder = ladderOf(draft, next)
  const volts = ladder.steps.map((step) => step.meanV)
  const least = Math.min(...volts.slice(1).map((y, k) => Math.abs(y - (volts[k] as number))))
  const peakToPeakV = Math.min(mains.peakToPeakV, MAINS_SHARE * least)
  return { ...draft, recipe, ladder, mains: { ...mains, peakToPeakV } }
}

type Draft = Omit<Setup, 'recipe' | 'ladder'>

/** The display at rest at a level, frames counted from 0. */
export function displayAt(setup: Draft, level: number, pwmPhase: number): Display {
  return createDisplay({
    panel: setup.simulation.panel,
    backlight: setup.simulation.backlight,
    pwmHz: setup.simulation.pwmHz,
    brightness: setup.brightness,
    refreshHz: setup.plan.refreshHz,
    setting: setup.setting,
    row: 0.5,
    level,
    startS: 0,
    pwmPhase,
  })
}

function ladderOf(setup: Draft, next: Random): Ladder {
  const { plan, photodiode, simulation } = setup
  const count = Math.round(plan.ladderS * plan.sampleRateHz)
  const steps = plan.levels.map((level): LadderStep => {
    const display = displayAt(setup, level, next())
    const volts = voltsOf(photodiode, display, 0.5, 1 / plan.sampleRateHz, count, null)
    addNoise(volts, simulation.noiseV, next)
    const trace = traceOf(codesOf(volts, plan.rangeV, simulation.bits), plan.sampleRateHz, plan.rangeV)
    return { level, ...plateauOf(trace, plan.refreshHz) }
  })
  return { steps, darkV: null, takenAt: '2030-01-01T00:00:00.000Z' }
}

/** Period of the backlight, s; 0 for steady light. */
export function ripplePeriodS({ simulation, plan }: Setup): number {
  if (simulation.backlight === 'steady') return 0
  return 1 / (simulation.backlight === 'pwm' ? simulation.pwmHz : plan.refreshHz)
}
