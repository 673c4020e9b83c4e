import type { MeasureId } from '../domain/measures.ts'
import { demodulate, foldCycle } from '../signal/periodic-waveform.ts'
import { meanBetween, windowMean, type Series } from '../signal/series.ts'
import type { Levels } from './levels.ts'
import { noiseReach, sigmaOfMean, type NoiseModel } from './noise-model.ts'
import type { Plateaus } from './plateaus.ts'
import { fitTail, type TailFit } from './tail-fit.ts'

/** A sine that conditioning has left in the series: cycles per sample, amplitudes at the level before and after, V. */
export interface LineLeft {
  readonly frequency: number
  readonly before: number
  readonly after: number
  /** The backlight's ripple, or another line such as hum. */
  readonly kind: 'ripple' | 'hum'
}

/** What else than noise a state level may be off by, V, each a standard uncertainty. */
interface LevelDoubt {
  readonly driftV: number
  readonly tailV: number
  readonly roundingV: number
  /** The levels' own method: bins of a histogram, a ladder that disagrees. */
  readonly methodV: number
  readonly totalV: number
}

/** Everything that is left in the series the measures are read from. */
export interface Residuals {
  readonly noise: NoiseModel
  readonly lines: readonly LineLeft[]
  /** Largest distance the lines reach from the level after the step, V. */
  readonly peakV: number
  readonly before: LevelDoubt
  readonly after: LevelDoubt
  readonly tail: TailFit | null
  /** Rounding of the converter in a single reading that no noise spreads, V. */
  readonly roundingV: number
  /** The converter's step, V. */
  readonly lsbV: number
}

/** What is left in the trace and moves a measure, for a flag: the kind, its worst measure and by how much there. */
export interface LeftEvidence {
  readonly kind: 'ripple' | 'hum' | 'drift' | 'tail'
  readonly measure: MeasureId
  /** Standard uncertainty by it, and the measure's value, in the measure's unit. */
  readonly u: number
  readonly value: number
}

/**
 * Rms of the rounding that stays in a mean, in steps, for noise of `sigma` steps: √Σ e^(−4π²k²σ²)/(2π²k²).
 * Source: Fourier series of the rounding error of a Gaussian-dithered converter.
 */
export function roundingLeft(sigma: number): number {
  let sum = 0
  for (let k = 1; k <= 60; k++) {
    const term = Math.exp(-4 * (Math.PI * k * sigma) ** 2) / (2 * (Math.PI * k) ** 2)
    sum += term
    if (term < 1e-12 * sum || term < 1e-18) break
  }
  return Math.sqrt(sum)
}

/** 10–90 % durations after the edge from which a level is taken for settled. */
const SETTLED = 5
/** Share of the dwell that belongs to the step itself: an overshoot that decays, say. */
const LATE = 0.36
/** Changes within this many standard uncertainties are noise; beyond them what is more counts. */
const NOISE = 2

interface Request {
  readonly series: Series
  readonly noise: NoiseModel
  readonly rawNoise: NoiseModel
  readonly plateaus: Plateaus
  readonly levels: Levels
  readonly mid: number
  readonly scale: number
  readonly preEnd: number
  readonly lsbV: number
  /** Voltage of no light. */
  readonly darkV: number
  /** Ripple period left in the series, samples; 0 without. */
  readonly period: number
  /** Ends of the series that a centred mean spoils, samples. */
  readonly margin: number
  /** Conditioning takes the backlight's own ripple out. */
  readonly rippleRemoved: boolean
  /** By dividing by its waveform. */
  readonly divided: boolean
}

/** Finds what conditioning and averaging have left. */
export function findResiduals(request: Request): Residuals {
  const { noise, rawNoise, levels, lsbV } = request
  const lines = linesLeft(request)
  // What is seen holds the rounding's own variance.
  const spread = lsbV > 0 ? Math.sqrt(Math.max(0, (rawNoise.sigmaV / lsbV) ** 2 - 1 / 12)) : Infinity
  const rounding = Number.isFinite(spread) ? roundingLeft(spread) * lsbV : 0
  const tail = tailOf(request)
  const before = doubt(driftBefore(request), 0, rounding, levels.methodBeforeV)
  const tailV = tail === null ? 0 : Math.hypot(tail.shortV, tail.uV)
  // What an exponential explains is no drift.
  const drift = tail !== null && tail.tau !== Infinity ? 0 : driftAfter(request)
  const after = doubt(drift, tailV, rounding, levels.methodAfterV)
  let peakV = 0
  for (const line of lines) peakV += line.after
  peakV = Math.max(peakV, dividedPeak(request))
  return { noise, lines, peakV, before, after, tail, roundingV: rounding, lsbV }
}

function doubt(driftV: number, tailV: number, roundingV: number, methodV: number): LevelDoubt {
  return { driftV, tailV, roundingV, methodV, totalV: Math.hypot(driftV, tailV, roundingV, methodV) }
}

/** Share of what the light of a level lets expect below which a line does not belong to the light. */
const OWN = 0.2
/** Rms amplitudes of noise under which a line may hide. */
const HIDDEN = 3

/** Amplitudes of the plateaus' lines in the series itself, less what noise alone would show. */
function linesLeft({ series, noise, plateaus, darkV, rippleRemoved }: Request): LineLeft[] {
  const found: LineLeft[] = []
  const { ripple, second } = plateaus
  const add = (frequency: number, kind: LineLeft['kind']): void => {
    // Mean square of a Hann-weighted amplitude by noise: 6 times that of a mean of n.
    const floor = (window: readonly [number, number]): number => {
      const n = window[1] - window[0]
      return 6 * noise.sigmaV ** 2 * (Math.min(noise.correlation, n) / n)
    }
    const at = (window: readonly [number, number]): number => {
      if ((window[1] - window[0]) * frequency < 1.5) return 0
      const { amplitude } = demodulate(series, ...window, frequency)
      return Math.sqrt(Math.max(0, amplitude * amplitude - floor(window)))
    }
    const line = { frequency, before: at(plateaus.before), after: at(plateaus.after), kind }
    // What swings at one level and not in the light of the other is no light of a backlight, it is the display's answer.
    const light = (window: readonly [number, number]): number => Math.abs(windowMean(series, ...window) - darkV)
    const [one, two] = [light(plateaus.before), light(plateaus.after)]
    // Next to no light swings by less than noise shows: nothing is told by its absence there.
    const hidden = (window: readonly [number, number]): number => HIDDEN * Math.sqrt(floor(window))
    const lacks = (own: number, window: readonly [number, number], other: number, share: number): boolean =>
      own < OWN * other * share && OWN * other * share > hidden(window)
    if (lacks(line.before, plateaus.before, line.after, one / Math.max(one, two))) return
    if (lacks(line.after, plateaus.after, line.before, two / Math.max(one, two))) return
    if (line.before > 0 || line.after > 0) found.push(line)
  }
  if (ripple && !rippleRemoved) add(ripple.fundamental, 'ripple')
  if (second > 0) add(second, 'hum')
  return found
}

/** Bins of a folded period of a trace that was divided by its ripple. */
const FOLD = 128

/**
 * How far what division leaves of a backlight's waveform reaches from the level after the step, V: edges that move by a
 * part of a sample from period to period. Largest of the mean period, less what noise makes of so many means.
 */
function dividedPeak({ series, noise, plateaus, divided }: Request): number {
  const { ripple, after } = plateaus
  if (!divided || !ripple) return 0
  const cycle = foldCycle(series, ...after, ripple.fundamental, FOLD)
  if (!cycle) return 0
  const each = Math.max(1, (after[1] - after[0]) / FOLD)
  const reach = noiseReach(noise, FOLD, 1) * (noise.sigmaV / Math.sqrt(each))
  const most = Math.max(cycle.max - cycle.mean, cycle.mean - cycle.min)
  return most > reach ? most : 0
}

/** Change from one stretch to another beyond what noise explains, V. Seen and not corrected, it counts in full. */
function change(request: Request, a: readonly [number, number], b: readonly [number, number]): number {
  const { series, noise, period } = request
  const of = ([first, end]: readonly [number, number]): { mean: number; u: number } | null => {
    let length = end - first - 1
    if (period > 0) length = Math.floor(length / period) * period
    if (length < 2) return null
    return { mean: meanBetween(series, end - 1 - length, end - 1), u: sigmaOfMean(noise, length) }
  }
  const [one, two] = [of(a), of(b)]
  if (!one || !two) return 0
  const d = two.mean - one.mean
  const u2 = one.u ** 2 + two.u ** 2
  return Math.sqrt(Math.max(0, d * d - NOISE * NOISE * u2))
}

/** Drift (or a jump) between the window of the level before the step and the step. */
function driftBefore(request: Request): number {
  const { levels, preEnd, margin } = request
  const [first, end] = levels.beforeWindow
  const late: [number, number] = [Math.ceil(end), Math.floor(preEnd) - margin]
  if (late[1] - late[0] < 4 || late[1] - late[0] < (end - first) / 4) return 0
  const reach = (request.mid - (first + end) / 2) / ((late[0] + late[1]) / 2 - (first + end) / 2)
  return change(request, [first + Math.min(margin, (end - first) / 2), end], late) * Math.min(1.5, reach)
}

/** The same between the step, once it has settled, and the window of the level after it. */
function driftAfter(request: Request): number {
  const { levels, mid, scale, margin, series } = request
  const [first, end] = levels.afterWindow
  const settled = Math.ceil(mid + Math.max(SETTLED * scale, LATE * (end - mid))) + margin
  const length = Math.min(end - first, Math.floor((first - settled) / 1.01))
  const last = Math.min(end, series.n - margin)
  if (length < 4 || length < (end - first) / 4) {
    // Within the window itself, for want of anything better.
    const half = (first + last) >> 1
    return last - first < 8 ? 0 : change(request, [first, half], [half, last])
  }
  const early: [number, number] = [settled, settled + length]
  const reach = ((first + end) / 2 - mid) / ((first + end) / 2 - (early[0] + early[1]) / 2)
  return change(request, early, [first, last]) * Math.min(2, reach)
}

/** The late dwell as an exponential, where it began with the step: what moves alike before it is drift. */
function tailOf(request: Request): TailFit | null {
  const { series, noise, levels, mid, scale, period, margin, preEnd } = request
  const end = Math.min(levels.afterWindow[1], series.n - margin)
  const dwell = end - mid
  const first = Math.ceil(mid + Math.min(Math.max(1.5 * scale, LATE * dwell), 0.5 * dwell)) + margin
  if (end - first < 16) return null
  const tail = fitTail(series, noise, first, end, period, levels.afterV)
  if (tail === null || tail.tau !== Infinity) return tail
  const room = preEnd - 2 * margin
  if (room < 16 || room < 2 * period) return tail
  const half = room >> 1
  const early = meanBetween(series, margin, margin + half)
  const late = meanBetween(series, margin + half, margin + 2 * half - 1)
  const slope = (late - early) / half
  const u = (Math.SQRT2 * sigmaOfMean(noise, half)) / half
  return Math.abs(slope - tail.slopeV) <= Math.max(3 * u, 0.5 * Math.abs(tail.slopeV)) ? null : tail
}
