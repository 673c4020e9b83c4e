/**
 * Whether a component of a window is a line: a sine of one frequency standing out of the noise around it, whatever the
 * noise's spectrum is elsewhere.
 *
 * Harmonic F-test of Thomson (Proc. IEEE 70 (1982) 1055) as in Percival and Walden 1993, equations 499a and c: K tapers
 * h_k, Y_k = Σ h_k x e^(−i2πft), H_k = Σ h_k, μ = ΣH_kY_k ÷ ΣH_k²; (K − 1)|μ|²ΣH_k² ÷ Σ|Y_k − μH_k|² follows F(2, 2K − 2)
 * where there is no line. It needs no estimate of the noise; the noise only has to be even over ±NW resolution cells.
 * A window of fewer than sixteen periods has no room for that: there its periods are compared with one another.
 */
import { dpss } from './dpss.ts'
import { fTail2 } from './f-distribution.ts'
import { integralTo, windowMean, type Series } from './series.ts'
import { hannOf } from './spectrum.ts'
import { windowSlope } from './line-fit.ts'

export interface LineTest {
  /** Cycles per sample, where the window's own periodogram is largest. */
  readonly frequency: number
  /** Chance that noise alone gives this statistic at one place that was chosen beforehand. */
  readonly p: number
}

/** Half-bandwidth in resolution cells and number of tapers; thresholds of fewer tapers are far higher. */
const NW = 6
const TAPERS = 11
/**
 * Periods from which the band of the tapers holds neither the window's mean nor a neighbouring harmonic, nor sees one
 * over its edge.
 */
export const FEW_PERIODS = 16
/** Fewest periods of a line in a window. */
export const LEAST_PERIODS = 3
/** Places the window is brought down to around the frequency, and what their number is a multiple of. */
const PLACES = 256
const MULTIPLE = 16
/** Places after which the turning factor is computed anew. */
const AFRESH = 16

const re = new Float64Array(PLACES)
const im = new Float64Array(PLACES)

/**
 * Tests the component near `frequency` (cycles per sample, within half a resolution cell), or exactly at it, of samples
 * first … end−1; `block` samples are averaged into one first. The window's straight line is taken out. Near a frequency
 * the largest of two or three places is taken, which p does not tell.
 * @returns null for windows under 64 blocks or fewer than three periods
 */
export function testLine(
  series: Series,
  first: number,
  end: number,
  frequency: number,
  block = 1,
  exactly = false,
): LineTest | null {
  const points = Math.floor((end - first) / block)
  const periods = points * block * frequency
  if (points < 64 || periods < LEAST_PERIODS) return null
  return periods >= FEW_PERIODS
    ? multitaper(series, first, points, block, frequency, exactly)
    : periodsAlike(series, first, first + points * block, frequency, exactly)
}

function multitaper(
  series: Series,
  first: number,
  points: number,
  block: number,
  frequency: number,
  exactly: boolean,
): LineTest {
  const per = Math.ceil(points / PLACES)
  const length = Math.floor(points / per / MULTIPLE) * MULTIPLE
  bringDown(series, first, block, per, length, frequency)
  // Within the part of a cell by which a spectrum's bins leave a frequency open.
  const offset = exactly ? 0 : refine(length)
  const { tapers, sums } = dpss(length, NW, TAPERS)
  const turn = (2 * Math.PI * offset) / length
  const c1 = Math.cos(turn)
  const s1 = Math.sin(turn)
  let c = 1
  let s = 0
  for (let k = 0; k < length; k++) {
    const x = re[k]! * c + im[k]! * s
    im[k] = im[k]! * c - re[k]! * s
    re[k] = x
    const next = c * c1 - s * s1
    s = s * c1 + c * s1
    c = next
  }
  // Tapers are symmetric or antisymmetric in turn: both halves at once.
  const half = length / 2
  for (let k = 0, j = length - 1; k < half; k++, j--) {
    const a = re[k]!
    const b = im[k]!
    re[k] = a + re[j]!
    im[k] = b + im[j]!
    re[j] = a - re[j]!
    im[j] = b - im[j]!
  }
  let muRe = 0
  let muIm = 0
  let sumSquares = 0
  let total = 0
  for (let j = 0; j < TAPERS; j++) {
    const taper = tapers[j]!
    let x = 0
    let y = 0
    if (j % 2 === 0) {
      for (let k = 0; k < half; k++) {
        x += taper[k]! * re[k]!
        y += taper[k]! * im[k]!
      }
      muRe += sums[j]! * x
      muIm += sums[j]! * y
      sumSquares += sums[j]! ** 2
    } else {
      for (let k = 0, at = length - 1; k < half; k++, at--) {
        x += taper[k]! * re[at]!
        y += taper[k]! * im[at]!
      }
    }
    total += x * x + y * y
  }
  // Of Σ|Y|² the line explains |ΣHY|² ÷ ΣH².
  const line = (muRe * muRe + muIm * muIm) / sumSquares
  const rest = Math.max(total - line, 1e-14 * total)
  return {
    frequency: frequency + offset / (length * per * block),
    p: total > 0 ? fTail2(((TAPERS - 1) * line) / rest, TAPERS - 1) : 1,
  }
}

/** The window less its straight line, turned back by the frequency and averaged to `length` complex places. */
function bringDown(series: Series, first: number, block: number, per: number, length: number, frequency: number): void {
  const { v, prefix } = series
  const end = first + length * per * block
  const slope = windowSlope(series, first, end) * block
  const count = length * per
  const atStart = windowMean(series, first, end) - (slope * (count - 1)) / 2
  const turn = 2 * Math.PI * frequency * block
  const c1 = Math.cos(turn)
  const s1 = Math.sin(turn)
  const share = 1 / block
  let at = first
  let c = 1
  let s = 0
  for (let k = 0, i = 0; k < length; k++) {
    // Afresh now and then, so that rounding does not add up.
    if (k % AFRESH === 0) {
      const start = (turn * i) % (2 * Math.PI)
      c = Math.cos(start)
      s = Math.sin(start)
    }
    let x = 0
    let y = 0
    for (let j = 0; j < per; j++, i++, at += block) {
      const value = (block === 1 ? v[at]! : (prefix[at + block]! - prefix[at]!) * share) - atStart - slope * i
      x += value * c
      y -= value * s
      const next = c * c1 - s * s1
      s = s * c1 + c * s1
      c = next
    }
    re[k] = x
    im[k] = y
  }
}

/** Half widths of the parabolas, in resolution cells. */
const STEPS = [0.5, 0.15] as const

/** Offset, in resolution cells, of the largest Hann-weighted power within half a cell: two parabolas through it. */
function refine(length: number): number {
  const window = hannOf(length)
  for (let k = 0; k < length; k++) {
    weightedRe[k] = window[k]! * re[k]!
    weightedIm[k] = window[k]! * im[k]!
  }
  let centre = 0
  for (const step of STEPS) {
    hannPowers(length, centre, step)
    const a = Math.log(powers[0]! + 1e-300)
    const b = Math.log(powers[1]! + 1e-300)
    const c = Math.log(powers[2]! + 1e-300)
    const curve = a - 2 * b + c
    centre += curve < 0 ? Math.max(-1, Math.min(1, (a - c) / (2 * curve))) * step : 0
  }
  return Math.max(-0.75, Math.min(0.75, centre))
}

const weightedRe = new Float64Array(PLACES)
const weightedIm = new Float64Array(PLACES)
const powers = new Float64Array(3)

/** Powers at centre − step, centre and centre + step (resolution cells), to `powers`. */
function hannPowers(length: number, centre: number, step: number): void {
  const turn = (2 * Math.PI * centre) / length
  const c1 = Math.cos(turn)
  const s1 = Math.sin(turn)
  const aside = (2 * Math.PI * step) / length
  const d1 = Math.cos(aside)
  const t1 = Math.sin(aside)
  let c = 1
  let s = 0
  let d = 1
  let t = 0
  let x = 0
  let y = 0
  let xd = 0
  let yd = 0
  let xt = 0
  let yt = 0
  for (let k = 0; k < length; k++) {
    const a = weightedRe[k]! * c + weightedIm[k]! * s
    const b = weightedIm[k]! * c - weightedRe[k]! * s
    x += a
    y += b
    xd += a * d
    yd += b * d
    xt += a * t
    yt += b * t
    const next = c * c1 - s * s1
    s = s * c1 + c * s1
    c = next
    const nextAside = d * d1 - t * t1
    t = t * d1 + d * t1
    d = nextAside
  }
  powers[0] = (xd - yt) ** 2 + (yd + xt) ** 2
  powers[1] = x * x + y * y
  powers[2] = (xd + yt) ** 2 + (yd - xt) ** 2
}

/** Parts a period is cut into, and offsets (resolution cells) at which the periods are compared. */
const PARTS = 16
const OFFSETS = [0, -0.06, 0.06, -0.12, 0.12] as const
const BETWEEN = 0.03

/**
 * Analysis of variance of the window's whole periods: means of sixteen parts of a period, each period's own mean taken
 * out. Between parts over within parts follows F(15, 15(C − 1)) under white noise. Noise that is correlated over some
 * parts leaves fewer degrees of freedom, and never fewer than two and 2(C − 1), which are taken; noise that is
 * correlated over periods makes them differ more than their parts.
 */
export function periodsAlike(series: Series, first: number, end: number, frequency: number, exactly = false): LineTest {
  let best: LineTest = { frequency, p: 1 }
  const tryAt = (f: number): void => {
    const statistic = betweenParts(series, first, end, f)
    if (statistic === null) return
    const p = fTail2(statistic.f, statistic.cycles - 1)
    if (p < best.p) best = { frequency: f, p }
  }
  if (exactly) {
    tryAt(frequency)
    return best
  }
  for (const offset of OFFSETS) tryAt(frequency + offset / (end - first))
  const coarse = best.frequency
  for (const side of [-1, 1]) tryAt(coarse + (side * BETWEEN) / (end - first))
  return { ...best, p: Math.min(1, (OFFSETS.length + 2) * best.p) }
}

const means = new Float64Array(PARTS * FEW_PERIODS)
const periodMeans = new Float64Array(FEW_PERIODS)
const partSums = new Float64Array(PARTS)

function betweenParts(
  series: Series,
  first: number,
  end: number,
  frequency: number,
): { readonly f: number; readonly cycles: number } | null {
  const period = 1 / frequency
  const cycles = Math.min(FEW_PERIODS, Math.floor((end - 1 - first) * frequency + 1e-9))
  if (cycles < 2) return null
  const width = period / PARTS
  const { v, n } = series
  const [atStart, atEnd] = [v[0]!, v[n - 1]!]
  // The line through the periods' means: a straight line through the window would see the last, partial one.
  let along = 0
  let spread = 0
  let from: number = first
  let before = integralTo(series, from, atStart, atEnd)
  for (let c = 0, i = 0; c < cycles; c++) {
    let sum = 0
    for (let b = 0; b < PARTS; b++, i++) {
      const to = Math.min(end - 1, first + (i + 1) * width)
      const next = integralTo(series, to, atStart, atEnd)
      const value = (next - before) / (to - from)
      means[i] = value
      sum += value
      from = to
      before = next
    }
    const mean = sum / PARTS
    periodMeans[c] = mean
    along += (c - (cycles - 1) / 2) * mean
    spread += (c - (cycles - 1) / 2) ** 2
  }
  const perPart = along / spread / PARTS
  partSums.fill(0)
  let total = 0
  for (let c = 0, i = 0; c < cycles; c++) {
    const mean = periodMeans[c]!
    for (let b = 0; b < PARTS; b++, i++) {
      const x = means[i]! - mean - perPart * (b - (PARTS - 1) / 2)
      means[i] = x
      partSums[b]! += x
      total += x * x
    }
  }
  let between = 0
  for (let b = 0; b < PARTS; b++) between += partSums[b]! ** 2 / cycles
  let within = total - between
  if (between > 0.9 * total) {
    // Subtracting would leave rounding.
    within = 0
    for (let c = 0, i = 0; c < cycles; c++)
      for (let b = 0; b < PARTS; b++, i++) within += (means[i]! - partSums[b]! / cycles) ** 2
  }
  return within > 0 ? { f: (between * (cycles - 1)) / within, cycles } : { f: between > 0 ? Infinity : 0, cycles }
}
