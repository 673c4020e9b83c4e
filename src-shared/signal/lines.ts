/**
 * Lines of a spectrum. The Hann periodogram over its local floor finds where one may be; the test of `line-test.ts`
 * decides, so that neither the floor nor the shape of the noise enters the decision.
 */
import { fUpper2 } from './f-distribution.ts'
import { FEW_PERIODS, LEAST_PERIODS, periodsAlike, testLine } from './line-test.ts'
import type { Series } from './series.ts'
import { peakAt, type Spectrum, type SpectrumPeak } from './spectrum.ts'

export interface Search {
  /** Chance that noise alone gives a line somewhere in the spectrum. */
  readonly alpha: number
  /** Smallest amplitude that counts. */
  readonly least: number
  /** Fundamental (cycles per sample) whose harmonics do not count; null leaves none out. */
  readonly without: number | null
  /** Most lines answered. */
  readonly count: number
}

/** Resolution cells of one band of the floor; bands on either side, less the nearest, whose middle value it is. */
const BAND = 8
const SIDE = 4
/**
 * Degrees of freedom of such a floor, in pairs (neighbours of a Hann periodogram are correlated), and how much likelier
 * than the budget a place may be and still be tested: the test decides, this only saves work.
 */
const FLOOR_PAIRS = 16
const LENIENT = 10
/** Largest number of the harmonic that the strongest component of a waveform may be. */
const HARMONICS = 8
/** Places tested in a resolution cell (a line may lie between two bins), and candidates tested at most for every line. */
const PER_CELL = 4
const CANDIDATES = 3

let sums = new Float64Array(0)
let tops = new Int32Array(0)

/**
 * Lines of a window, strongest first: at least three periods in it, the chance for noise to give one anywhere in the
 * spectrum under `alpha`. A third of that each goes to the places with up to sixteen periods, to all others, and to the
 * waveforms that the largest component is a harmonic of: pulses have harmonics nearly as strong as their fundamental,
 * which spoil one another's test.
 */
export function findLines(
  series: Series,
  spectrum: Spectrum,
  { alpha, least, without, count }: Search,
): SpectrumPeak[] {
  const { cell, power, binWidth, first, end, block } = spectrum
  const few = alpha / 3 / (FEW_PERIODS - LEAST_PERIODS)
  const many = alpha / 3 / (PER_CELL * (power.length / cell))
  const lobe = Math.ceil(2.2 * cell)
  const found: SpectrumPeak[] = []
  const candidates = candidatesOf(spectrum, least * least, fUpper2(Math.min(0.5, LENIENT * many), FLOOR_PAIRS))
  let tested = 0
  for (const k of candidates) {
    if (found.length >= count || tested >= CANDIDATES * count) break
    if (without !== null && isHarmonic(k, without / binWidth, lobe)) continue
    const peak = peakAt(spectrum, k)
    if (found.some((one) => Math.abs(one.frequency - peak.frequency) <= lobe * binWidth)) continue
    const isFew = k < FEW_PERIODS * cell
    const p = isFew || stands(k, spectrum) ? (testLine(series, first, end, peak.frequency, block)?.p ?? 1) : 1
    const isLine =
      p <= (isFew ? few : many) || (tested === 0 && isOfWaveform(series, spectrum, k, peak.frequency, alpha / 3))
    tested++
    if (isLine) found.push(peak)
  }
  return found
}

/**
 * Whether a component stands so far above the bands around it that the test can find it a line. For the chances asked
 * for it has to hold most of the power within six cells; harmonics that are no nearer than these leave it five times the
 * mean of a band of eight cells (a Hann lobe being 1.5 cells wide).
 */
function stands(k: number, { power, cell }: Spectrum): boolean {
  const bands = bandsOf(power.length, cell)
  return exceeds(power[k]!, STANDS, Math.min(bands - 1, Math.floor((k - 1) / bandWidth(cell))), bands)
}
const STANDS = 5

/** Power of a Hann lobe over that of its highest bin, resolution cells: 1.5 at its middle, 2.1 between two bins. */
const LOBE = 2.1

/**
 * Whether the window repeats with two to eight times the period of a component, its strongest. Of the power up to the
 * eighth harmonic the periods then hold 1 − chance^(1/(C − 1)) at least (C periods, the test's own limit): where the
 * harmonics' places in the spectrum hold less, the periods are not compared. Its first cells, which a drift fills, are left out.
 */
function isOfWaveform(series: Series, spectrum: Spectrum, k: number, frequency: number, share: number): boolean {
  const { first, end, power, cell } = spectrum
  const chance = share / (HARMONICS - 1)
  const width = bandWidth(cell)
  const bands = bandsOf(power.length, cell)
  const reach = Math.ceil(cell)
  for (let order = 2; order <= HARMONICS; order++) {
    const fundamental = frequency / order
    const periods = (end - first) * fundamental
    if (periods < LEAST_PERIODS) return false
    const needed = 1 - chance ** (1 / (Math.min(FEW_PERIODS, Math.floor(periods)) - 1))
    let total = 0
    const upTo = Math.min(bands, Math.floor(((HARMONICS / order) * k) / width))
    for (let b = 1; b < upTo; b++) total += sums[b]! * width
    let held = 0
    for (let h = 1; h <= HARMONICS; h++) {
      const centre = Math.round((h * k) / order)
      let top = 0
      for (let i = Math.max(1, centre - reach); i <= centre + reach && i < power.length; i++)
        if (power[i]! > top) top = power[i]!
      held += top
    }
    if (LOBE * cell * held < needed * total) continue
    if (periodsAlike(series, first, end, fundamental, true).p <= chance) return true
  }
  return false
}

/** The strongest of them; null without any. */
export function strongestLine(series: Series, spectrum: Spectrum, search: Omit<Search, 'count'>): SpectrumPeak | null {
  return findLines(series, spectrum, { ...search, count: 1 })[0] ?? null
}

/**
 * Local maxima that may be lines, largest first: those `ratio` times above the floor around them, and the largest of
 * all (harmonics of a waveform can lie so close that they are one another's floor).
 */
function candidatesOf({ power, cell }: Spectrum, least: number, ratio: number): number[] {
  const half = power.length - 1
  const from = Math.max(2, Math.ceil(LEAST_PERIODS * cell - 0.5))
  const width = bandWidth(cell)
  const bands = bandsOf(power.length, cell)
  if (sums.length < bands) {
    sums = new Float64Array(2 * bands)
    tops = new Int32Array(2 * bands)
  }
  let largest = -1
  for (let b = 0, k = 1; b < bands; b++) {
    const stop = b === bands - 1 ? half : k + width
    const start = k
    let sum = 0
    let top = k
    for (; k < stop; k++) {
      const p = power[k]!
      sum += p
      if (p > power[top]! && k >= from) top = k
    }
    sums[b] = sum / (stop - start)
    tops[b] = top
    if (top >= from && isMaximum(power, top) && power[top]! >= least && (largest < 0 || power[top]! > power[largest]!))
      largest = top
  }
  const found = largest < 0 ? [] : [largest]
  for (let b = 0; b < bands; b++) {
    const top = tops[b]!
    const p = power[top]!
    if (top === largest || top < from || p < least || !isMaximum(power, top) || !exceeds(p, ratio, b, bands)) continue
    found.push(top)
  }
  return found.sort((a, b) => power[b]! - power[a]!)
}

/** Bins of one band of the floor, and bands of a spectrum of so many bins. */
const bandWidth = (cell: number): number => Math.max(2, Math.round(BAND * cell))
const bandsOf = (bins: number, cell: number): number => Math.max(1, Math.floor((bins - 2) / bandWidth(cell)))

const isMaximum = (power: Float64Array, k: number): boolean => power[k]! >= power[k - 1]! && power[k]! >= power[k + 1]!

/** Whether a power lies `ratio` times above the middle value of the bands around band b. */
function exceeds(p: number, ratio: number, b: number, bands: number): boolean {
  let under = 0
  let all = 0
  for (let side = 2; side <= SIDE; side++) {
    for (const other of [b - side, b + side]) {
      if (other < 0 || other >= bands) continue
      all++
      if (ratio * sums[other]! < p) under++
    }
  }
  return 2 * under > all || all === 0
}

/** Whether bin k lies within `lobe` bins of a multiple of the fundamental (in bins). */
function isHarmonic(k: number, fundamental: number, lobe: number): boolean {
  const order = Math.max(1, Math.round(k / fundamental))
  return Math.abs(k - order * fundamental) <= lobe
}
