import { integralTo, type Series } from '../signal/series.ts'
import { meanCycle } from '../signal/periodic-waveform.ts'
import { sumVariance, type NoiseModel } from './noise-model.ts'
import { sharpenFrequency, type Plateaus } from './plateaus.ts'

/** Light of a strobed backlight, pulse by pulse. */
export interface Pulses {
  /** Pulses per sample (the strobe's frequency in cycles per sample). */
  readonly frequency: number
  /** Width of a pulse at half its height, samples. */
  readonly width: number
  /** Energy of each whole pulse above the dark, V × samples, without what glows between pulses; the sample its period starts at. */
  readonly energies: Float64Array
  readonly starts: Float64Array
  /** Mean energies before and after the step, and the number of the first pulse that differs from those before. */
  readonly before: number
  readonly after: number
  readonly first: number
  /** Whole pulses that the level before the step was read from. */
  readonly beforeCount: number
  /** Share of the old level left in the first pulse, %; null when no pulse differs, or too few are recorded before. */
  readonly crosstalkPct: number | null
  readonly uCrosstalkPct: number
}

/** A recognised strobe: frequency in cycles per sample, phase of the middle of its dark gap, pulse width in samples. */
export interface Strobe {
  readonly frequency: number
  readonly gap: number
  readonly width: number
  /** Voltage of the dark between pulses. */
  readonly darkV: number
}

/** Fewest whole pulses before the step: of one or two, one may have been touched by the step's beginning. */
export const FEWEST_BEFORE = 3

/** Why a strobed record has no first-pulse crosstalk. */
export function noCrosstalk({ beforeCount }: Pick<Pulses, 'beforeCount'>): string {
  return beforeCount < FEWEST_BEFORE
    ? `Only ${beforeCount} whole pulse(s) are recorded clear of the step before it; ${FEWEST_BEFORE} are needed. Record more before the edge.`
    : 'No pulse differs from those before the step.'
}

/** A strobe is dark for at least this share of its period, and dark means below this share of its crest. */
const DARK_SHARE = 0.25
const DARK_LEVEL = 0.1

/**
 * Recognises a backlight that strobes: its ripple is once or twice the refresh rate (to 1 %; without a
 * known refresh rate nothing is recognised) and the light falls to nearly nothing for at least a quarter of each period.
 * `darkV` is the covered-sensor voltage; null takes the darkest phase of the cycle for it.
 * @returns null for steady or merely modulated backlights
 */
export function findStrobe(
  series: Series,
  plateaus: Plateaus,
  refreshPerSample: number | null,
  darkV: number | null,
): Strobe | null {
  const { ripple } = plateaus
  if (!ripple || refreshPerSample === null) return null
  const ratio = ripple.fundamental / refreshPerSample
  const multiple = Math.round(ratio)
  if (multiple < 1 || multiple > 2 || Math.abs(ratio / multiple - 1) > 0.01) return null
  const { cycle } = ripple
  const crest = cycle.max - cycle.min
  // The dark between pulses must be dark: small against the crest's distance from no light.
  if (!(ripple.depthPct > 60) || !(crest > 0)) return null
  let dark = 0
  for (const y of cycle.values) if (y - cycle.min < DARK_LEVEL * crest) dark++
  if (dark < DARK_SHARE * cycle.values.length) return null
  const frequency = sharpenFrequency(series, plateaus, ripple.fundamental)
  const bins = Math.max(32, Math.min(2048, Math.ceil(2 / frequency)))
  const fine = meanCycle(series, ...ripple.window, frequency, bins)
  if (!fine) return null
  const half = fine.min + 0.5 * (fine.max - fine.min)
  let lit = 0
  let re = 0
  let im = 0
  for (let b = 0; b < bins; b++) {
    const y = fine.values[b]!
    if (y > half) lit++
    const light = y - fine.min
    re += light * Math.cos((2 * Math.PI * (b + 0.5)) / bins)
    im += light * Math.sin((2 * Math.PI * (b + 0.5)) / bins)
  }
  const crestPhase = Math.atan2(im, re) / (2 * Math.PI)
  return { frequency, gap: (((crestPhase + 0.5) % 1) + 1) % 1, width: lit / bins / frequency, darkV: darkV ?? fine.min }
}

/** Half of the stretch a pulse's energy is taken over, in its widths at half its height. */
const PULSE_REACH = 1
/**
 * Change of the next pulse over that of the first to differ from which the step had begun less than half a period before
 * that one's middle. Of an exponential response with half a period or more before the first pulse: 1 + x + x² < 3.
 */
const TOUCHED = 3
/** Share of the step from which a pulse differs from those before. */
const LEAST_CHANGE = 0.005

/**
 * Energies of all whole pulses of a strobed record. Crosstalk X = (E₁ − E∞)/(E_old − E∞) with E₁ the first pulse
 * after the step (stereo-crosstalk form; from memory). `edge` is the sample of the step; E_old is the mean over the
 * pulses before it, E∞ over the last fifth of those after it.
 */
export function pulseSequence(series: Series, strobe: Strobe, edge: number, noise: NoiseModel): Pulses | null {
  const period = 1 / strobe.frequency
  const count = Math.floor((series.n - 1) * strobe.frequency - strobe.gap)
  if (count < 6) return null
  // The pulse alone: light that glows between pulses changes when the drive does, not with the next pulse.
  const reach = Math.min(period / 2, PULSE_REACH * strobe.width)
  const energies = new Float64Array(count)
  const starts = new Float64Array(count)
  for (let k = 0; k < count; k++) {
    const start = (strobe.gap + k) * period
    starts[k] = start
    const from = start + period / 2 - reach
    energies[k] = integralTo(series, from + 2 * reach, 0, 0) - integralTo(series, from, 0, 0) - strobe.darkV * 2 * reach
  }
  let last = 0
  while (last < count && starts[last]! + period <= edge - 0.5 * period) last++
  // The last whole pulse before the step's middle may hold its beginning.
  const beforeCount = Math.max(0, last - 1)
  const before = mean(energies, 0, Math.max(1, beforeCount))
  const tail = Math.max(2, Math.floor((count - last) / 5))
  const after = mean(energies, count - tail, count)
  const step = after - before
  // Noise over the stretch of a pulse with its memory; where pulses of one level scatter more, by where samples fall on
  // their edges or by the backlight itself, what they scatter.
  const byNoise = Math.sqrt(Math.max(0, sumVariance(noise, 2 * reach)))
  const u = Math.max(byNoise, scatter(energies, count - Math.max(tail, Math.floor((count - last) / 2)), count))
  if (!(Math.abs(step) > 0)) return null
  // The brighter level scatters more, whichever side of the step it is on.
  const threshold = Math.max(LEAST_CHANGE * Math.abs(step), 5 * u, 5 * scatter(energies, 0, beforeCount))
  let first = Math.max(0, beforeCount - 1)
  while (first < count && Math.abs(energies[first]! - before) <= threshold) first++
  // The clock of the frames decides: a step that begins in the tail of a pulse changes that pulse a little and the next
  // one a lot, and it is the next that is the first of its frame.
  const changed = (k: number): number => Math.abs(energies[k]! - before)
  if (first + 1 < count && changed(first + 1) > TOUCHED * changed(first)) first++
  return {
    frequency: strobe.frequency,
    width: strobe.width,
    energies,
    starts,
    before,
    after,
    first,
    beforeCount,
    crosstalkPct:
      beforeCount >= FEWEST_BEFORE && first < count ? (100 * (energies[first]! - after)) / (before - after) : null,
    uCrosstalkPct: (100 * u * Math.sqrt(1 + 1 / Math.max(1, beforeCount) + 1 / tail)) / Math.abs(step),
  }
}

/** Standard deviation of the values about a level that may move slowly: from differences of neighbours. */
function scatter(values: Float64Array, first: number, end: number): number {
  let sum = 0
  for (let k = first + 1; k < end; k++) sum += (values[k]! - values[k - 1]!) ** 2
  return Math.sqrt(sum / Math.max(1, 2 * (end - first - 1)))
}

function mean(values: Float64Array, first: number, end: number): number {
  let sum = 0
  for (let k = first; k < end; k++) sum += values[k]!
  return sum / (end - first)
}
