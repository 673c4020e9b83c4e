/** From an event to light that comes in pulses: by the energy of each pulse. */
import { levelSpread } from './plateau.ts'

export interface PulsedStep {
  /** Beginning of the first pulse that left the old level, that did a tenth of the step, and half of it; samples. */
  readonly onset: number
  readonly tenth: number
  readonly half: number
  /** Period of the pulses, samples. */
  readonly period: number
  /** Spread of the pulses' edges about their even spacing, samples. */
  readonly jitter: number
}

/** Fewer tell no spacing. */
const LEAST_PULSES = 3
/** Shorter periods are not resolved by the samples. */
const LEAST_PERIOD = 8
/** Edges further off than this share of a period do not belong to even pulses. */
const LARGEST_JITTER = 0.1
/** A pulse leaves the old level by so many standard deviations of the energies before, and by this share of the step. */
const LEAVES_SIGMA = 3
const LEAVES_SHARE = 0.02
/** A level whose pulses are smaller than this share of the other's is read without whole pulses. */
const DARK_SHARE = 0.1

/**
 * Pulses are found where they stand out most, before or after, and their spacing is carried through the record. The mean
 * light of each period, cut where the light is lowest, is the pulse's share of the step. Light exists in pulses only, so
 * the instants are the beginnings of pulses; for a step down, where the pulse would have begun. What the display does
 * between two pulses is not seen: its own change may lie up to one period before.
 * @param event place of the event, samples. @returns why not, as a sentence, where pulses cannot tell.
 */
export function pulsedStep(volts: Float64Array, event: number): PulsedStep | string {
  const n = volts.length
  const from = Math.ceil(event)
  const [before, after] = [volts.subarray(0, from), volts.subarray(from + Math.floor((n - from) / 2))]
  const late = levelSpread(after).range >= levelSpread(before).range
  const found = edgesOf(late ? after : before, late ? n - after.length : 0)
  if (typeof found === 'string') return found
  const { first, period, jitter, duty } = found
  // From the middle of the dark part to the next one.
  const lead = ((1 - duty) * period) / 2
  const start = first - lead
  const energy = (k: number): number | null => meanOver(volts, start + k * period, start + (k + 1) * period)
  const earliest = Math.ceil(-start / period)
  const latest = Math.floor((n - start) / period) - 1
  /** The first pulse that begins after the event: the one under way then shows the level before. */
  const own = Math.ceil((event - first) / period)
  const [old, fresh]: [number[], number[]] = [[], []]
  for (let k = earliest; k < own - 1; k++) old.push(energy(k) ?? Number.NaN)
  for (let k = Math.max(own, latest - Math.max(1, Math.floor((latest - own) / 4))); k <= latest; k++)
    fresh.push(energy(k) ?? Number.NaN)
  // Without a whole pulse before it, the level is that of the samples there are.
  const low = levelSpread(old.length > 0 ? Float64Array.from(old) : before)
  const high = levelSpread(Float64Array.from(fresh))
  const step = high.mean - low.mean
  const dark = late && levelSpread(before).range < DARK_SHARE * levelSpread(after).range
  if (!dark && old.length === 0) return `${PULSES} Record at least two of them before the event.`
  const noise = Math.max(old.length > 1 ? low.sd : 0, high.sd)
  if (old.length > 1 && low.range > Math.max(0.4 * Math.abs(step), 10 * high.sd))
    return 'The light had changed before the event.'
  if (!(Math.abs(step) > 4 * noise)) return 'No step of the pulses’ light follows the event.'
  const leaves = Math.max(LEAVES_SHARE, (LEAVES_SIGMA * (old.length > 1 ? low.sd : 0)) / Math.abs(step))
  const done = (k: number): number => ((energy(k) ?? Number.NaN) - low.mean) / step
  const firstOf = (share: number, start: number): number | null => {
    for (let k = start; k < latest; k++) if (done(k) >= share && done(k + 1) >= share) return k
    return null
  }
  // The pulse under way at the event may be the new level's already, where the change came within it.
  const begins = Math.max(earliest, own - 1)
  const [left, tenth, half] = [firstOf(leaves, begins), firstOf(0.1, begins), firstOf(0.5, begins)]
  if (left === null || tenth === null || half === null) return 'No step of the pulses’ light follows the event.'
  if (half < own) return 'The light had changed before the event, or within the pulse that it came in.'
  const place = (k: number): number => Math.max(event, first + k * period)
  return { onset: place(Math.min(left, tenth)), tenth: place(tenth), half: place(half), period, jitter }
}

const PULSES = 'The light comes in pulses.'

interface Edges {
  /** Beginning of one pulse, samples of the record. */
  readonly first: number
  readonly period: number
  readonly jitter: number
  /** Share of the period above half of the pulse. */
  readonly duty: number
}

function edgesOf(volts: Float64Array, offset: number): Edges | string {
  const sorted = Float64Array.from(volts).sort()
  const at = (share: number): number => sorted[Math.round(share * (sorted.length - 1))] as number
  const [low, high] = [at(0.01), at(0.99)]
  const mid = (low + high) / 2
  const rises: number[] = []
  let above = 0
  let armed = false
  for (let i = 1; i < volts.length; i++) {
    const [before, now] = [volts[i - 1] as number, volts[i] as number]
    if (now >= mid) above++
    // A quarter of the way back, so that noise at the middle is not an edge.
    if (now < low + (high - low) / 4) armed = true
    if (!armed || before >= mid || now < mid) continue
    rises.push(i - 1 + (mid - before) / (now - before))
    armed = false
  }
  if (rises.length < LEAST_PULSES)
    return `${PULSES} Record at least ${LEAST_PULSES} of them on the brighter side of the event: longer before it for a step down, longer after it for a step up.`
  const { slope: period, intercept: first } = lineThrough(rises)
  if (period < LEAST_PERIOD)
    return `${PULSES} They come too fast for the samples: raise the sample rate, or use a slower detector.`
  const jitter = Math.sqrt(rises.reduce((sum, x, k) => sum + (x - first - k * period) ** 2, 0) / (rises.length - 2))
  if (jitter > LARGEST_JITTER * period)
    return 'The light is modulated without a steady period: no pulse can be told from the step. Turn the modulation off, for example by full brightness, or choose levels further apart.'
  return { first: offset + first, period, jitter, duty: above / volts.length }
}

/** Least squares of values against their indices. */
function lineThrough(values: readonly number[]): { readonly slope: number; readonly intercept: number } {
  const n = values.length
  const centre = (n - 1) / 2
  const mean = values.reduce((sum, x) => sum + x, 0) / n
  const slope = values.reduce((sum, x, k) => sum + (k - centre) * (x - mean), 0) / ((n * (n * n - 1)) / 12)
  return { slope, intercept: mean - slope * centre }
}

/** Mean of samples between two places, parts of samples counted; null beyond the record. */
function meanOver(volts: Float64Array, from: number, to: number): number | null {
  if (from < 0 || to > volts.length) return null
  const [first, last] = [Math.floor(from), Math.min(volts.length - 1, Math.floor(to))]
  let sum = 0
  for (let i = first; i <= last; i++) {
    const share = Math.min(to, i + 1) - Math.max(from, i)
    if (share > 0) sum += share * (volts[i] as number)
  }
  return sum / (to - from)
}
