import type { MeasureInput } from '../../domain/measure-input.ts'
import { fTail2, fUpper2 } from '../../signal/f-distribution.ts'
import { amplitudeNear } from '../../signal/spectrum.ts'
import { windowMean, type Series } from '../../signal/series.ts'
import type { Analysis } from '../analysis.ts'
import type { Times } from '../measure-times.ts'
import { quietWindows } from './quiet.ts'
import { fitLine, type LineFit } from './line-component.ts'
import { spanOf, type CollectedFlags } from './collected.ts'
import { chanceOf, LIMITS } from './budget.ts'
import { pct, volts } from './words.ts'

const LINES = [50, 60, 100, 120] as const

/** Mains pick-up found in the plateaus: y = re·cos(2π f k) + im·sin(2π f k), V, k from the first sample looked at. */
export interface Hum {
  readonly hz: number
  readonly frequency: number
  readonly re: number
  readonly im: number
}

/** Chance of a false alarm at one line: four are looked at. */
const CHANCE = chanceOf('hum', LINES.length)
/** Chance that noise makes the same line differ between the plateaus by more than is allowed. */
const APART_CHANCE = 0.01
/** Part of the dwell at its end that is looked at. */
const LATE = 0.5
interface Line extends LineFit {
  /** Standard uncertainty of the amplitude, V. */
  readonly u: number
}

/**
 * Frequencies beside a line that tell the noise there, in resolution cells from it: a line in the middle of a window
 * shows nothing at whole cells, and one and a half away a fifth of itself.
 */
const BESIDE = [-4, -3, -2, 2, 3, 4] as const

/**
 * Hum: a component at a mains frequency or its double that is neither the refresh rate, a multiple nor a simple
 * fraction of it, nor the ripple of a backlight. It adds to the light, so it is the same sine before and after the
 * step in size and phase; whatever modulates the light scales with it, and a settling tail shows beside the line too.
 * @returns the component that was flagged, so that slopes can be read without it
 */
export function flagHum(flags: CollectedFlags, input: MeasureInput, analysis: Analysis, times: Times): Hum | null {
  const { rate, levels, clock, conditioned } = analysis
  const { series } = clock
  const step = Math.abs(levels.stepV)
  const quiet = quietWindows(analysis, times, LATE)
  const windows = [quiet.before, quiet.after] as const
  let worst: { hz: number; fit: Line } | null = null
  for (const hz of LINES) {
    if (input.refreshHz !== null && nearMultiple(hz, input.refreshHz)) continue
    const gain = meanGain(conditioned.meanWidth, hz / rate)
    if (gain < LIMITS.humGain || !mayShow(analysis, hz, 0.25 * LIMITS.humPct * step * 0.01)) continue
    const fit = inBoth(analysis, series, windows, hz / rate, gain)
    if (fit !== null && (worst === null || fit.amplitude > worst.fit.amplitude)) worst = { hz, fit }
  }
  if (worst === null) return null
  const { hz, fit } = worst
  const value = (200 * fit.amplitude) / step
  // Twice its own uncertainty above the limit, so that noise does not lift what is allowed over it.
  if (value - (400 * fit.u) / step <= LIMITS.humPct) return null
  flags.raise({
    id: 'hum',
    evidence: `A ${hz} Hz component of ${volts(2 * fit.amplitude)} peak to peak, ${pct(value)} of the step, lies in the plateaus.`,
    value,
    limit: LIMITS.humPct,
    unit: '%',
    span: spanOf(analysis, quiet.after[0], quiet.after[1] - 1),
  })
  return { hz, frequency: hz / rate, re: fit.re, im: fit.im }
}

/** Whether the plateaus' spectra, which are there anyway, show anything near a line; saves the fit where they do not. */
function mayShow(analysis: Analysis, hz: number, leastV: number): boolean {
  const { before, after } = analysis.plateaus.spectra
  const seen = [before, after].filter((spectrum) => spectrum !== null)
  return seen.length === 0 || seen.some((spectrum) => amplitudeNear(spectrum, hz / analysis.rate) > leastV)
}

/** Response of a centred mean of `width` samples to a sine of `frequency` cycles per sample. */
function meanGain(width: number, frequency: number): number {
  const x = Math.PI * width * frequency
  return width <= 1 ? 1 : Math.abs(Math.sin(x) / x)
}

/** A line against its neighbourhood: squared amplitude over the mean of those beside it, and how many these are. */
interface OverBeside {
  readonly fit: LineFit
  readonly besideV2: number
  readonly count: number
}

/**
 * Amplitude² of the sine over the mean of those at frequencies beside it follows F(2, 2m) in noise of any spectrum that
 * is even over eight resolution cells. A settling tail shows beside the line too.
 */
export function overBeside(series: Series, window: readonly [number, number], frequency: number): OverBeside | null {
  const fit = fitLine(series, window, frequency)
  if (fit === null) return null
  let sum = 0
  let count = 0
  for (const cells of BESIDE) {
    const other = fitLine(series, window, frequency + cells / (window[1] - window[0]))
    if (other === null) continue
    sum += other.amplitude ** 2
    count++
  }
  return count === 0 ? null : { fit, besideV2: sum / count, count }
}

/** A component that both plateaus show alike; null where they do not, or where it does not stand out of its neighbours. */
function inBoth(
  analysis: Analysis,
  series: Series,
  [before, after]: readonly (readonly [number, number])[],
  frequency: number,
  gain: number,
): Line | null {
  const b = overBeside(series, after!, frequency)
  // Little is recorded before the step; hum that only that shows may be anything slow.
  if (!b) return null
  const a = overBeside(series, before!, frequency)
  const best = a && a.besideV2 < b.besideV2 ? a : b
  if (fTail2(best.fit.amplitude ** 2 / best.besideV2, best.count) > CHANCE) return null
  if (a) {
    const apart = Math.hypot(a.fit.re - b.fit.re, a.fit.im - b.fit.im)
    const byNoise = Math.sqrt((a.besideV2 + b.besideV2) * fUpper2(APART_CHANCE, a.count + b.count))
    if (apart > Math.max(byNoise, LIMITS.humAgreement * best.fit.amplitude)) return null
    if (scalesWithLight(analysis, a.fit.amplitude, b.fit.amplitude)) return null
  }
  const { re, im, amplitude } = best.fit
  // Cosine and sine have half of the mean square each.
  return { re: re / gain, im: im / gain, amplitude: amplitude / gain, u: Math.sqrt(best.besideV2 / 2) / gain }
}

function nearMultiple(hz: number, refresh: number): boolean {
  for (const ratio of [hz / refresh, refresh / hz]) {
    const whole = Math.round(ratio)
    if (whole >= 1 && Math.abs(ratio - whole) < 0.01 * whole) return true
  }
  return false
}

/** Whether two amplitudes relate as the light of their plateaus does, and that light differs enough to tell. */
function scalesWithLight(analysis: Analysis, before: number, after: number): boolean {
  const { raw, plateaus, input } = analysis
  const darkV = input.ladder?.darkV ?? 0
  const lightBefore = Math.abs(windowMean(raw, ...plateaus.before) - darkV)
  const lightAfter = Math.abs(windowMean(raw, ...plateaus.after) - darkV)
  const bright = Math.max(lightBefore, lightAfter)
  const dim = Math.min(lightBefore, lightAfter)
  if (!(bright > 1.5 * dim)) return false
  const [strong, weak] = lightBefore > lightAfter ? [before, after] : [after, before]
  // Midway between "the same in both" (hum) and "in proportion to the light" (backlight).
  return weak < strong * Math.sqrt(Math.max(dim / bright, 0.01))
}
