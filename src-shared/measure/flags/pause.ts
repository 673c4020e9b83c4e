import type { Series } from '../../signal/series.ts'
import { MAD_TO_SIGMA, medianInPlace } from '../../signal/robust.ts'
import { sigmaOfMean, type NoiseModel } from '../noise-model.ts'
import type { Pulses } from '../pulses.ts'
import { chanceOf, LIMITS, reachOf } from './budget.ts'

/** A pause within a step: the signal slows down between two faster stretches. */
export interface Pause {
  /** Speed in the pause over the slower of the two stretches' top speeds, %. */
  readonly slowPct: number
  readonly limitPct: number
  /** Share of the step done at the pause, %. */
  readonly donePct: number
  /** Positions of the two fastest instants around it, samples. */
  readonly first: number
  readonly last: number
}

/** Chance of a false alarm in one record. */
const CHANCE = chanceOf('pause')

/** Difference of two of `count` values of unit variance that noise makes with that chance between any two of them. */
const differenceReach = (count: number): number => Math.SQRT2 * reachOf(CHANCE / count ** 2)
/** Speeds are differences of means this part of the stretch looked at wide, and at most that part of the transition's scale. */
const WIDTH = 1 / 14
const OF_SCALE = 1 / 4

/** Part of the record before the step that is at rest, and readings of its speed. */
const OF_REST = 0.6
const RESTS = 60

let speeds = new Float64Array(0)

/**
 * Slowest instant between two faster ones from 10 % of the step to the last time it is short of 85 %. A response to one
 * change of level gets faster and then slower, once; a second change on the way makes it fast again, also where
 * overdrive had carried the first one beyond and the signal came back.
 * @param low 10 % crossing, `scale` 10–90 % duration, samples
 * @param width least width of the means the speed is the difference of, samples (a ripple period; 0 without ripple)
 * @returns null where the step gets slower only once, or noise explains the difference
 */
export function findPause(
  series: Series,
  noise: NoiseModel,
  low: number,
  scale: number,
  beforeV: number,
  stepV: number,
  width: number,
): Pause | null {
  const high = lastShort(series, low, Math.max(4, scale / 8), width, beforeV, stepV)
  const span = Math.max(scale, high - low)
  let w = Math.max(2, Math.round(Math.min(WIDTH * span, OF_SCALE * scale)))
  if (width > 0) w = Math.max(1, Math.ceil(w / width)) * width
  const stride = Math.max(1, Math.floor(w / 4))
  const first = Math.max(Math.ceil(w), Math.floor(low - w))
  const end = Math.min(series.n - 1 - Math.ceil(w), Math.ceil(high + w))
  const count = Math.floor((end - first) / stride) + 1
  if (count < 8) return null
  if (speeds.length < count) speeds = new Float64Array(2 * count)
  const sign = stepV > 0 ? 1 : -1
  for (let i = 0; i < count; i++) {
    const k = first + i * stride
    speeds[i] = (sign * (meanOf(series, k, k + w) - meanOf(series, k - w, k))) / w
  }
  let top = 0
  for (let i = 1; i < count; i++) if (speeds[i]! > speeds[top]!) top = i
  // Noise, or what the speed does at rest: averaging may leave some of a ripple that few samples a period show.
  const sigma = Math.max((Math.SQRT2 * sigmaOfMean(noise, w)) / w, restSpeed(series, w, OF_REST * low))
  const search = { series, first, stride, sigma, beforeV, stepV, count, top }
  const before = deepest(search, -1)
  const after = deepest(search, 1)
  if (before === null || after === null) return before ?? after
  return before.slowPct < after.slowPct ? before : after
}

/** Last block of about `length` samples (whole ripple periods) whose mean is short of 85 % of the step. */
function lastShort(series: Series, low: number, length: number, width: number, beforeV: number, stepV: number): number {
  const block = width > 0 ? Math.max(1, Math.ceil(length / width)) * width : Math.round(length)
  for (let end = series.n; end - block > low; end -= block) {
    if ((meanOf(series, end - block, end) - beforeV) / stepV < 1 - LIMITS.pauseLeast) return end
  }
  return low
}

/** Rms speed in the undisturbed record up to sample `end`. */
function restSpeed(series: Series, w: number, end: number): number {
  let squares = 0
  let count = 0
  const step = Math.max(1, (end - 2 * w) / RESTS)
  for (let k = w; k + w < end; k += step, count++) {
    const at = Math.floor(k)
    squares += ((meanOf(series, at, at + w) - meanOf(series, Math.max(0, at - w), at)) / w) ** 2
  }
  return count === 0 ? 0 : Math.sqrt(squares / count)
}

interface Search {
  readonly series: Series
  readonly first: number
  readonly stride: number
  readonly sigma: number
  readonly beforeV: number
  readonly stepV: number
  readonly count: number
  /** Entry of the top speed. */
  readonly top: number
}

/** The deepest dip between the top speed and the fastest instant on one side of it. */
function deepest(search: Search, side: 1 | -1): Pause | null {
  const { first, stride, sigma, count, top } = search
  const reach = differenceReach(count)
  let slowest = top
  let best: Pause | null = null
  for (let i = top + side; i >= 0 && i < count; i += side) {
    const speed = speeds[i]!
    if (speed < speeds[slowest]!) {
      slowest = i
      continue
    }
    const slow = speeds[slowest]!
    if (speed <= 0 || slow >= LIMITS.pauseShare * speed || speed - slow <= reach * sigma) continue
    const done = leastDone(search, slowest, Math.max(top, i))
    if (done === null || done < LIMITS.pauseLeast || done > 1 - LIMITS.pauseLeast) continue
    const slowPct = (100 * Math.max(0, slow)) / speed
    if (best !== null && slowPct >= best.slowPct) continue
    const ends = [first + top * stride, first + i * stride]
    best = {
      slowPct,
      limitPct: 100 * LIMITS.pauseShare,
      donePct: 100 * done,
      first: Math.min(...ends),
      last: Math.max(...ends),
    }
  }
  return best
}

/**
 * Least share of the step done between two entries: where the signal rests, also after coming back from beyond. Null
 * where it comes back from beyond by no more than a response that rings does: its excursions are powers of the first
 * (o, o², …, exactly so for one of second order), while a step in two parts rests wherever its middle level lies.
 */
function leastDone({ series, first, stride, beforeV, stepV }: Search, from: number, to: number): number | null {
  const doneAt = (i: number): number => {
    const k = first + i * stride
    return (meanOf(series, Math.max(0, k - stride), k + stride) - beforeV) / stepV
  }
  let least = Infinity
  let leastAt = from
  for (let i = from; i <= to; i++) {
    const done = doneAt(i)
    if (done >= least) continue
    least = done
    leastAt = i
  }
  let beyond = 0
  for (let i = 0; i < leastAt; i++) beyond = Math.max(beyond, doneAt(i) - 1)
  return 1 - least <= LIMITS.ringing * beyond ** 2 ? null : least
}

function meanOf(series: Series, from: number, to: number): number {
  const { prefix } = series
  const at = (x: number): number => {
    const k = Math.floor(x)
    return prefix[k]! + (x - k) * (prefix[Math.min(series.n, k + 1)]! - prefix[k]!)
  }
  return (at(to) - at(from)) / (to - from)
}

/**
 * The same for a strobed panel: its steps from pulse to pulse, of which a slow panel needs several on either side.
 * `noise` is that of one energy; what energies usually do from pulse to pulse before the step and at the end of the
 * dwell counts as noise as well (few samples a pulse leave a beat).
 */
export function findPulsePause({ energies, starts, before, after, beforeCount }: Pulses, noise: number): Pause | null {
  const step = after - before
  let top = -1
  const change = (k: number): number => (energies[k]! - energies[k - 1]!) / step
  const usual = (from: number, to: number): number =>
    MAD_TO_SIGMA * medianInPlace(Float64Array.from({ length: to - from }, (_, i) => Math.abs(change(from + i))))
  const late = energies.length - Math.max(2, Math.floor((energies.length - beforeCount) / 5))
  const sigma = Math.max(
    (Math.SQRT2 * noise) / Math.abs(step),
    beforeCount > 1 ? usual(1, beforeCount) : 0,
    usual(late, energies.length),
  )
  for (let k = 1; k < energies.length; k++) if (top < 0 || change(k) > change(top)) top = k
  if (top < 0) return null
  const reach = differenceReach(energies.length)
  let best: Pause | null = null
  for (const side of [-1, 1] as const) {
    let slowest = top
    for (let k = top + side; k >= 1 && k < energies.length; k += side) {
      if (change(k) < change(slowest)) slowest = k
      const slow = change(slowest)
      const fast = change(k)
      if (fast <= 0 || slow >= LIMITS.pulsePauseShare * fast || fast - slow <= reach * sigma) continue
      const done = (energies[slowest]! - before) / step
      if (done < LIMITS.pauseLeast || done > 1 - LIMITS.pauseLeast) continue
      const slowPct = (100 * Math.max(0, slow)) / fast
      if (best !== null && slowPct >= best.slowPct) continue
      best = {
        slowPct,
        limitPct: 100 * LIMITS.pulsePauseShare,
        donePct: 100 * done,
        first: starts[Math.min(top, k)]!,
        last: starts[Math.max(top, k)]!,
      }
    }
  }
  return best
}
