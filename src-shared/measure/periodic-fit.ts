/**
 * The periodic part of a record told from its noise without a model of either: even and odd cycles are averaged apart.
 * What both halves share is the light; half their difference has the noise of their mean, in the same bands, whatever
 * its colour. Extremes are looked for in one half and read in the other, so that noise cannot push them apart.
 */
import { studentT95 } from '../signal/distributions.ts'
import { fUpper } from '../signal/f-distribution.ts'
import { blockMeans, meanCycles } from './periodic-cycle.ts'

/** A value with its standard uncertainty. */
export interface Uncertain {
  readonly value: number
  readonly u: number
}

export interface PeriodicFit {
  readonly cycles: number
  /** The mean cycle of all harmonics that stand out of the noise, one value a phase. */
  readonly cycle: Float64Array
  readonly max: Uncertain
  readonly min: Uncertain
  readonly mean: Uncertain
  readonly percentFlicker: Uncertain | null
  readonly peakToPeakOverMean: Uncertain | null
  readonly flickerIndex: Uncertain | null
  /** Standard deviation of the cycle around its mean, noise taken off. */
  readonly rms: Uncertain
  /** Harmonics kept, and how many there could be. */
  readonly kept: number
  readonly possible: number
}

/** Chance that a record without light but its mean keeps any harmonic. */
const FALSE_ALARM = 0.01
/** Harmonics to either side from which the noise at one is read. */
const NEIGHBOURS = 8
/** Standard deviations by which the power of the harmonics left out exceeds their noise before they are kept: 1 %. */
const LEFT_OVER = 2.33
/** Most phases of a cycle; slower light is averaged down to about these first. */
const MOST_PHASES = 4096

interface Harmonics {
  readonly re: Float64Array
  readonly im: Float64Array
}

/** Cosine and sine of every whole phase of a cycle. */
interface Turns {
  readonly cos: Float64Array
  readonly sin: Float64Array
}

function turnsOf(phases: number): Turns {
  const angle = (i: number): number => (2 * Math.PI * i) / phases
  return {
    cos: Float64Array.from({ length: phases }, (_, i) => Math.cos(angle(i))),
    sin: Float64Array.from({ length: phases }, (_, i) => Math.sin(angle(i))),
  }
}

/** Σ value·e^(−2πi·k·phase) of one harmonic. */
function sumAt(cycle: ArrayLike<number>, { cos, sin }: Turns, k: number): readonly [re: number, im: number] {
  const n = cycle.length
  let re = 0
  let im = 0
  for (let i = 0, turn = 0; i < n; i++) {
    const value = cycle[i] as number
    re += value * (cos[turn] as number)
    im -= value * (sin[turn] as number)
    turn += k
    while (turn >= n) turn -= n
  }
  return [re, im]
}

function harmonicsOf(cycle: Float64Array, count: number): Harmonics {
  const n = cycle.length
  const turns = turnsOf(n)
  const re = new Float64Array(count + 1)
  const im = new Float64Array(count + 1)
  for (let k = 1; k <= count; k++) {
    const [sumRe, sumIm] = sumAt(cycle, turns, k)
    re[k] = sumRe / n
    im[k] = sumIm / n
  }
  return { re, im }
}

/** The kept harmonics drawn over one cycle. */
function synthesise(
  { re, im }: Harmonics,
  kept: readonly number[],
  mean: number,
  phases: number,
  weight: (k: number) => number,
): Float64Array {
  const cycle = new Float64Array(phases).fill(mean)
  const { cos, sin } = turnsOf(phases)
  for (const k of kept) {
    const [c, s, w] = [re[k] as number, im[k] as number, weight(k)]
    for (let i = 0, turn = 0; i < phases; i++) {
      cycle[i] = (cycle[i] as number) + w * (c * (cos[turn] as number) - s * (sin[turn] as number))
      turn += k
      while (turn >= phases) turn -= phases
    }
  }
  return cycle
}

const meanOf = (values: Float64Array): number => values.reduce((sum, value) => sum + value, 0) / values.length

function placeOfExtreme(cycle: Float64Array, sign: 1 | -1): number {
  let place = 0
  for (let i = 1; i < cycle.length; i++) if (sign * (cycle[i] as number) > sign * (cycle[place] as number)) place = i
  return place
}

/** Where the halves' noise is known: mean |D|² of the neighbours of each harmonic, and how many they are. */
function noiseOf(even: Harmonics, odd: Harmonics, count: number): { power: Float64Array; neighbours: Uint16Array } {
  const each = new Float64Array(count + 1)
  for (let k = 1; k <= count; k++)
    each[k] =
      (((even.re[k] as number) - (odd.re[k] as number)) ** 2 + ((even.im[k] as number) - (odd.im[k] as number)) ** 2) /
      4
  const power = new Float64Array(count + 1)
  const neighbours = new Uint16Array(count + 1)
  for (let k = 0; k <= count; k++) {
    // Fewer near the bottom, where coloured noise is steep.
    const reach = Math.min(NEIGHBOURS, k + 1)
    const first = Math.max(1, k - reach)
    const last = Math.min(count, k + reach)
    let sum = 0
    for (let j = first; j <= last; j++) sum += each[j] as number
    neighbours[k] = last - first + 1
    power[k] = sum / (last - first + 1)
  }
  return { power, neighbours }
}

/**
 * Fits the periodic part of `light` (dark offset taken off) of frequency `frequencyHz`. `orders` are harmonics that are
 * known to be there. Null below two whole cycles. Every uncertainty is standard and grows from the noise between the
 * two halves; it leaves out what a wrong dark offset does.
 */
export function fitPeriodic(
  light: ArrayLike<number>,
  sampleRateHz: number,
  frequencyHz: number,
  orders: readonly number[],
): PeriodicFit | null {
  const factor = Math.max(1, Math.floor(sampleRateHz / frequencyHz / MOST_PHASES))
  const folded = meanCycles(factor === 1 ? light : blockMeans(light, factor), sampleRateHz / factor, frequencyHz)
  if (folded === null) return null
  const { even, odd, cycles } = folded
  const n = even.length
  const possible = Math.floor(n / 2)
  const mean = 0.5 * (meanOf(even) + meanOf(odd))
  const [a, b] = [harmonicsOf(even, possible), harmonicsOf(odd, possible)]
  const noise = noiseOf(a, b, possible)
  const kept: number[] = []
  const power = (k: number): number =>
    (((a.re[k] as number) + (b.re[k] as number)) ** 2 + ((a.im[k] as number) + (b.im[k] as number)) ** 2) / 4
  const limits = new Map<number, number>()
  for (let k = 1; k <= possible; k++) {
    const dof = 2 * (noise.neighbours[k] as number)
    let limit = limits.get(dof)
    if (limit === undefined) {
      limit = fUpper(FALSE_ALARM / possible, 2, dof)
      limits.set(dof, limit)
    }
    if (orders.includes(k) || power(k) > limit * (noise.power[k] as number)) kept.push(k)
  }
  // Where what is left over is no noise (a sharp edge under noise), cutting it off would ring: everything is kept, and
  // noise then widens the uncertainty but does not move the extremes, which are read in the half they were not found in.
  const rest = Array.from({ length: possible }, (_, i) => i + 1).filter((k) => !kept.includes(k))
  // Under noise alone each ratio is F with 2 and m degrees of freedom, of mean m/(m − 2). Its numerators have a variance
  // of 1 each, and so has what their neighbours add, since every one of these serves as often as there are of them.
  const excess = rest.reduce((sum, k) => {
    const dof = 2 * (noise.neighbours[k] as number)
    return sum + power(k) / Math.max(noise.power[k] as number, Number.MIN_VALUE) - dof / Math.max(1, dof - 2)
  }, 0)
  const excessSd = Math.sqrt(2 * rest.length)
  if (excess > LEFT_OVER * excessSd) kept.splice(0, kept.length, ...kept, ...rest)
  kept.sort((x, y) => x - y)
  const highest = kept[kept.length - 1] ?? 1
  // Smooth light is drawn finer than it was sampled, so that its peak is not missed; sharp light would ring.
  const phases = highest * 8 <= n ? Math.max(n, 128, 16 * highest) : n
  // The highest harmonic of an even number of phases is its own mirror image and counts once.
  const weight = (k: number): number => (2 * k === n ? 1 : 2)
  const draw = (h: Harmonics): Float64Array => synthesise(h, kept, mean, phases, weight)
  const first = draw(a)
  const second = draw(b)
  const cycle = first.map((value, i) => 0.5 * (value + (second[i] as number)))

  // Noise known from few neighbours: Student's t over the normal quantile.
  const v = (k: number): number =>
    (noise.power[k] as number) * (studentT95(2 * Math.max(1, noise.neighbours[k] as number)) / 1.96) ** 2
  // Short of that it may still be there: as much as was left over, once it exceeds what noise does to it.
  const hidden =
    kept.length < possible && excess > excessSd
      ? rest.reduce((total, k) => total + weight(k) * (power(k) - (noise.power[k] as number)), 0)
      : 0
  const variance = Math.max(0, hidden) + kept.reduce((sum, k) => sum + weight(k) * v(k), 0)
  const meanU = Math.sqrt(v(0))
  const extreme = (sign: 1 | -1): { value: number; place: number } => {
    const [i, j] = [placeOfExtreme(first, sign), placeOfExtreme(second, sign)]
    return { value: 0.5 * ((second[i] as number) + (first[j] as number)), place: placeOfExtreme(cycle, sign) }
  }
  const top = extreme(1)
  const bottom = extreme(-1)
  const covariance = kept.reduce(
    (sum, k) => sum + weight(k) * v(k) * Math.cos((2 * Math.PI * k * (top.place - bottom.place)) / phases),
    0,
  )
  const max = { value: top.value, u: Math.hypot(Math.sqrt(variance), meanU) }
  const min = { value: bottom.value, u: max.u }
  const sum = max.value + min.value
  const spread = max.value - min.value
  const uSpread = Math.sqrt(Math.max(0, 2 * (variance - covariance)))
  const uSum = Math.sqrt(2 * (variance + covariance) + 4 * v(0))
  const known = sum > 0 && mean > 0
  const rms2 = kept.reduce((total, k) => total + weight(k) * (power(k) - (noise.power[k] as number)), 0)
  const rms = Math.sqrt(Math.max(0, rms2))
  const uRms = Math.sqrt(kept.reduce((total, k) => total + 2 * weight(k) ** 2 * power(k) * v(k), 0))
  return {
    cycles,
    cycle,
    max,
    min,
    mean: { value: mean, u: meanU },
    percentFlicker: known
      ? { value: (100 * spread) / sum, u: (100 * Math.hypot(uSpread, (spread / sum) * uSum)) / sum }
      : null,
    peakToPeakOverMean: known
      ? { value: (100 * spread) / mean, u: (100 * Math.hypot(uSpread, (spread / mean) * meanU)) / mean }
      : null,
    flickerIndex: known ? indexOf(first, second, { value: mean, u: meanU }, kept, v, Math.max(0, hidden)) : null,
    rms: { value: rms, u: rms > 0 ? uRms / (2 * rms) : Math.sqrt(variance) },
    kept: kept.length,
    possible,
  }
}

/**
 * ½·mean|L − L̄| / L̄ with the sign taken from one half and the light from the other: noise near the mean, which makes
 * every plain reading too large, then averages out.
 */
function indexOf(
  first: Float64Array,
  second: Float64Array,
  { value: mean, u: meanU }: Uncertain,
  kept: readonly number[],
  v: (k: number) => number,
  hidden: number,
): Uncertain {
  const phases = first.length
  const signs = first.map((value, i) => Math.sign(value - mean) || Math.sign((second[i] as number) - mean))
  let area = 0
  for (let i = 0; i < phases; i++) {
    const [x, y] = [(first[i] as number) - mean, (second[i] as number) - mean]
    area += 0.5 * (Math.sign(x) * y + Math.sign(y) * x)
  }
  const value = (0.5 * area) / phases / mean
  // Noise of the area: each kept harmonic through the same harmonic of the sign.
  let variance = 0
  let followed = 0
  const turns = turnsOf(phases)
  for (const k of kept) {
    const [re, im] = sumAt(signs, turns, k)
    const share = (2 * (re * re + im * im)) / phases ** 2
    variance += v(k) * share
    followed += share
  }
  // An edge between two phases may lie anywhere between them, and drawn as a slope it only ever loses area.
  let edges = 0
  for (let i = 0; i < phases; i++) {
    const [here, next] = [(first[i] as number) - mean, (first[(i + 1) % phases] as number) - mean]
    if (here * next >= 0) continue
    // Folding smears an edge over its two neighbours too.
    const [x, y] = [(first[(i + phases - 1) % phases] as number) - mean, (first[(i + 2) % phases] as number) - mean]
    if (x * y < 0) edges += Math.abs(x * y) / (Math.abs(x) + Math.abs(y))
  }
  variance += (edges / phases) ** 2
  // What may be left out counts as far as the sign has harmonics there.
  variance += hidden * Math.max(0, 1 - followed - (signs.reduce((sum, sign) => sum + sign, 0) / phases) ** 2)
  return { value: Math.max(0, value), u: Math.hypot((0.5 * Math.sqrt(variance)) / mean, (value * meanU) / mean) }
}
