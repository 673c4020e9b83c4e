/** Judges a few recordings of the light at rest against the plan and the recipe, before a sweep is started. */
import type { RawTrace } from '#shared/domain/capture.ts'
import type { SweepPlan } from '#shared/domain/plan.ts'
import type { PreflightLine } from '#shared/domain/preflight.ts'
import { duration, fixed, hertz } from '#shared/domain/quantity-text.ts'
import type { Recipe } from '#shared/domain/recipe.ts'
import { LIMITS } from './flags/budget.ts'
import { measurePeriodic } from './periodic.ts'

/** The light at one level, at rest. */
export interface LevelReading {
  readonly level: number
  readonly meanV: number
  /** Noise of single samples, V: from differences of neighbours, so that ripple and drift hardly enter. */
  readonly noiseV: number
  /** One step of the converter, V. */
  readonly lsbV: number
  /** Largest reading, V. */
  readonly highestV: number
  /** Periodic part of the light; null when none was found. */
  readonly ripple: { readonly hz: number; readonly percentFlicker: number } | null
}

/** Reads a recording of a level at rest. The trace needs two samples; its own range tells what clips. */
export function readLevel(level: number, trace: RawTrace): LevelReading {
  const { samples, scaleV, offsetV } = trace
  let sum = 0
  let squares = 0
  let highest = -Infinity
  samples.forEach((sample: number, i: number) => {
    sum += sample
    highest = Math.max(highest, sample)
    if (i > 0) squares += (sample - (samples[i - 1] as number)) ** 2
  })
  const periodic = measurePeriodic(trace).values
  const [hz, percent] = [periodic.fundamental_hz, periodic.percent_flicker_pct]
  return {
    level,
    meanV: (sum / samples.length) * scaleV + offsetV,
    // Var(x₂ − x₁) = 2σ² for independent samples.
    noiseV: Math.sqrt(squares / (2 * Math.max(1, samples.length - 1))) * scaleV,
    lsbV: scaleV,
    highestV: highest * scaleV + offsetV,
    ripple: hz === null || percent === null ? null : { hz, percentFlicker: percent },
  }
}

export interface PreflightInput {
  readonly plan: SweepPlan
  readonly recipe: Recipe
  /** The two darkest levels of the plan and its brightest. */
  readonly darkest: LevelReading
  readonly next: LevelReading
  readonly white: LevelReading
  /** Measured by the stimulus; null when it has not. */
  readonly measuredHz: number | null
  /** First reading of the same white since the rig was connected, and how long ago, s; null when there is none. */
  readonly earlier: { readonly meanV: number; readonly agoS: number } | null
  readonly estimatedS: number
}

/** Share of the range above which an overshoot may be cut off, and below which steps use few of the converter's codes. */
const WHITE_MOST = 0.85
const WHITE_LEAST = 0.2
/** Darkest level, % of white, from which stray light or an offset is likely. No standard; common practice. */
const DARK_PCT = 5
/** Percent flicker below which ripple moves no number this program prints. No standard; common practice. */
const RIPPLE_PCT = 1
/** As the stimulus itself demands before a sweep. */
const REFRESH_SHARE = 0.005
/** Drift of white that is left alone, %, and the time over which one must have been watched, s. */
const DRIFT_PCT = 1
const WATCHED_S = 600

type Said = Omit<PreflightLine, 'id'>
const right = (found: string): Said => ({ verdict: 'right', found, remedy: '' })
const doubtful = (found: string, remedy: string): Said => ({ verdict: 'doubtful', found, remedy })
const wrong = (found: string, remedy: string): Said => ({ verdict: 'wrong', found, remedy })

/** The list before the start, in the order it is read. Levels in V, times in s. */
export function preflight(input: PreflightInput): PreflightLine[] {
  return [
    { id: 'range', ...range(input) },
    { id: 'dark', ...dark(input) },
    { id: 'ripple', ...ripple(input) },
    { id: 'noise', ...noise(input) },
    { id: 'refresh', ...refresh(input) },
    { id: 'detector', ...detector(input) },
    { id: 'drift', ...drift(input) },
    { id: 'time', ...right(`About ${duration(input.estimatedS)}.`) },
  ]
}

function range({ plan, white, darkest }: PreflightInput): Said {
  const share = white.meanV / plan.rangeV
  const found = `White is ${volts(white.meanV)}, ${fixed(100 * share, 0)} % of ${plan.rangeV} V.`
  if (white.meanV - darkest.meanV <= 3 * Math.max(white.noiseV, darkest.noiseV))
    return wrong(
      `${found} Black is ${volts(darkest.meanV)}.`,
      'The light does not rise with the level: point the sensor at the patch, and check that the display shows it.',
    )
  if (white.highestV >= 0.999 * plan.rangeV)
    return wrong(`${found} It reaches the end of the range.`, 'Choose a larger range or less gain.')
  if (share > WHITE_MOST) return doubtful(found, 'A large overshoot may be cut off: choose a larger range.')
  if (share < WHITE_LEAST) return doubtful(found, 'Steps use few codes: more gain, more light or a smaller range.')
  return right(found)
}

function dark({ white, darkest }: PreflightInput): Said {
  const pct = (100 * darkest.meanV) / white.meanV
  const found = `Level ${darkest.level} is ${volts(darkest.meanV)}, ${fixed(pct, 1)} % of white.`
  if (darkest.level > 0) return right(found)
  return pct > DARK_PCT
    ? doubtful(found, 'Darken the room, cover sensor and patch, or check the offset.')
    : right(found)
}

const CONDITION_WORDS: Readonly<Record<Recipe['condition']['kind'], string>> = {
  none: 'leaves it in',
  divide: 'divides by it',
  'one-period-mean': 'takes means over whole periods',
  'low-pass': 'filters it',
  'savitzky-golay': 'smooths over it',
}

function ripple({ white, recipe, plan }: PreflightInput): Said {
  const found = white.ripple
  if (found === null || found.percentFlicker < RIPPLE_PCT) return right(`Under ${RIPPLE_PCT} % at white.`)
  const { kind } = recipe.condition
  const said = `${fixed(found.percentFlicker, found.percentFlicker < 10 ? 1 : 0)} % at ${hertz(found.hz)} Hz; the recipe ${CONDITION_WORDS[kind]}.`
  const ratio = found.hz / plan.refreshHz
  if (found.percentFlicker > 90 && Math.abs(ratio - Math.round(ratio)) < 0.01)
    return doubtful(
      said,
      'The light is pulsed with the refresh: use blur edges; durations between pulses have no meaning.',
    )
  if (kind === 'none') return doubtful(said, 'Use a recipe with a one-period mean, or switch the modulation off.')
  return right(said)
}

function noise({ darkest, next }: PreflightInput): Said {
  const step = Math.abs(next.meanV - darkest.meanV)
  const sigma = Math.max(next.noiseV, darkest.noiseV)
  const [sigmas, codes] = [step / sigma, step / next.lsbV]
  const found = `${darkest.level} → ${next.level} is ${volts(step)}: ${ratio(sigmas)} × the noise (${volts(sigma)}), ${ratio(codes)} × the digitizer’s step (${volts(next.lsbV)}).`
  const limits = `It should be ${LIMITS.stepOverNoise} times the noise and ${LIMITS.stepOverLsb} times the digitizer’s step`
  if (sigmas < 3) return wrong(found, `${limits}: more light, more gain, or no level this dark.`)
  if (sigmas < LIMITS.stepOverNoise || codes < LIMITS.stepOverLsb)
    return doubtful(found, `${limits}; captures of this step will be flagged. More light or more gain helps.`)
  return right(found)
}

function refresh({ plan, measuredHz }: PreflightInput): Said {
  const planned = `${hertz(plan.refreshHz)} Hz planned`
  if (measuredHz === null) return doubtful(`${planned}, not measured.`, 'Keep the stimulus open and in front.')
  const found = `${hertz(measuredHz)} Hz measured, ${planned}.`
  return Math.abs(measuredHz - plan.refreshHz) <= REFRESH_SHARE * plan.refreshHz
    ? right(found)
    : wrong(found, 'Set the refresh rate in the system settings, or change the plan; turn variable refresh off.')
}

function detector({ recipe: { detectorS } }: PreflightInput): Said {
  if (detectorS === null)
    return doubtful(
      'Not stated in the recipe.',
      'Give its own 10–90 % duration there; without it, no one can tell how much of a short duration is the detector’s.',
    )
  return right(`10–90 % in ${fixed(detectorS * 1000, 3)} ms.`)
}

function drift({ white, earlier }: PreflightInput): Said {
  if (earlier === null)
    return doubtful('First reading of white.', 'Let the display warm up for 20 to 30 minutes, then check again.')
  const pct = 100 * (white.meanV / earlier.meanV - 1)
  const found = `White changed by ${fixed(pct, 2)} % in ${minutes(earlier.agoS)}.`
  if (Math.abs(pct) > DRIFT_PCT) return doubtful(found, 'The display is still warming up: wait, then check again.')
  if (earlier.agoS < WATCHED_S) return doubtful(found, 'Too short to tell: check again after 20 to 30 minutes.')
  return right(found)
}

function volts(value: number): string {
  const size = Math.abs(value)
  if (size >= 0.1) return `${fixed(value, 3)} V`
  return `${fixed(value * 1000, size >= 0.01 ? 1 : size >= 0.001 ? 2 : size >= 0.0001 ? 3 : 4)} mV`
}

const ratio = (value: number): string => (Number.isFinite(value) ? fixed(value, value < 10 ? 1 : 0) : '∞')

function minutes(seconds: number): string {
  const whole = Math.round(seconds)
  if (whole < 60) return `${whole} s`
  return whole < 3600 ? `${Math.round(whole / 60)} min` : `${fixed(whole / 3600, 1)} h`
}
