/** Min/max envelopes for drawing: every sample is inside the band that is drawn, whatever the zoom. */
import type { RawTrace } from '../domain/capture.ts'
import type { Envelope } from '../domain/views.ts'

type Samples = Int16Array | Float32Array

/** Least and greatest sample of consecutive blocks; the last block may be shorter. In the unit of the samples. */
export interface PyramidLevel {
  /** Samples per block. */
  readonly block: number
  readonly min: Samples
  readonly max: Samples
}

/** Levels from fine to coarse; each block of one level covers `PYRAMID_FACTOR` blocks of the one before. */
export interface Pyramid {
  readonly sampleCount: number
  readonly levels: readonly PyramidLevel[]
}

/** Samples in a block of the finest level: 0.8 % of the size of the samples. */
export const PYRAMID_BLOCK = 256
export const PYRAMID_FACTOR = 4

function emptyLike(samples: Samples, length: number): Samples {
  return samples instanceof Int16Array ? new Int16Array(length) : new Float32Array(length)
}

function fold(low: Samples, high: Samples, factor: number): { min: Samples; max: Samples } {
  const length = Math.ceil(low.length / factor)
  const min = emptyLike(low, length)
  const max = emptyLike(low, length)
  for (let block = 0; block < length; block++) {
    const start = block * factor
    const end = Math.min(start + factor, low.length)
    let least = low[start] ?? 0
    let greatest = high[start] ?? 0
    for (let i = start + 1; i < end; i++) {
      const a = low[i] ?? 0
      const b = high[i] ?? 0
      if (a < least) least = a
      if (b > greatest) greatest = b
    }
    min[block] = least
    max[block] = greatest
  }
  return { min, max }
}

/** Adds the coarser levels above a finest one, up to a single block. */
export function pyramidOf(sampleCount: number, finest: PyramidLevel): Pyramid {
  const levels: PyramidLevel[] = [finest]
  let top = finest
  while (top.min.length > 1) {
    top = { block: top.block * PYRAMID_FACTOR, ...fold(top.min, top.max, PYRAMID_FACTOR) }
    levels.push(top)
  }
  return { sampleCount, levels }
}

/** Pyramid of a record. An empty record gives one level without blocks. */
export function buildPyramid(samples: Samples, block = PYRAMID_BLOCK): Pyramid {
  if (!Number.isInteger(block) || block < 1) throw new RangeError('A pyramid block holds at least one sample.')
  return pyramidOf(samples.length, { block, ...fold(samples, samples, block) })
}

/**
 * Envelope of the part of a trace between two instants, in volts.
 *
 * `fromS` and `toS` are seconds from the first sample; they are clipped to the record, and the samples nearest outside
 * them are included so that a drawn line reaches the edge of the picture. At most `columns` columns come back. Column k
 * covers whole samples (its borders rounded down to one) and neighbours share none, so no sample is missed and none
 * counted twice. When the part holds no more samples than columns, the columns are the samples themselves (min = max,
 * step = sample interval).
 * A pyramid of the same samples makes wide views cheap and changes no number.
 *
 * Empty when the record is empty or the span lies outside it. Throws RangeError for fewer than one column.
 */
export function envelopeOf(
  trace: RawTrace,
  fromS: number,
  toS: number,
  columns: number,
  pyramid: Pyramid | null = null,
): Envelope {
  if (!(columns >= 1)) throw new RangeError('An envelope needs at least one column.')
  const { samples, sampleRateHz, scaleV, offsetV } = trace
  const interval = 1 / sampleRateHz
  // A guard of a millionth of a sample keeps instants computed as i / rate on sample i.
  const first = Math.max(0, Math.floor(fromS * sampleRateHz + 1e-6))
  const last = Math.min(samples.length - 1, Math.ceil(toS * sampleRateHz - 1e-6))
  if (!(last >= first)) return { startS: 0, stepS: interval, min: new Float32Array(0), max: new Float32Array(0) }
  const count = last - first + 1
  const length = Math.min(Math.floor(columns), count)
  const min = new Float32Array(length)
  const max = new Float32Array(length)
  for (let column = 0; column < length; column++) {
    const start = first + Math.floor((column * count) / length)
    const end = first + Math.floor(((column + 1) * count) / length)
    const [least, greatest] = extremes(samples, start, end, pyramid)
    const a = least * scaleV + offsetV
    const b = greatest * scaleV + offsetV
    min[column] = Math.min(a, b)
    max[column] = Math.max(a, b)
  }
  return { startS: first * interval, stepS: (count / length) * interval, min, max }
}

/** Least and greatest of samples[start, end), by the coarsest pyramid blocks that fit and single samples at the rims. */
function extremes(samples: Samples, start: number, end: number, pyramid: Pyramid | null): [number, number] {
  let least = Infinity
  let greatest = -Infinity
  let i = start
  while (i < end) {
    const level = pyramid === null ? null : coarsest(pyramid, i, end)
    if (level === null) {
      // Single samples up to the next block border (or to the end without a pyramid).
      const block = pyramid?.levels[0]?.block ?? Infinity
      const stop = Math.min(end, block === Infinity ? end : (Math.floor(i / block) + 1) * block)
      for (; i < stop; i++) {
        const value = samples[i] ?? 0
        if (value < least) least = value
        if (value > greatest) greatest = value
      }
      continue
    }
    const block = i / level.block
    const low = level.min[block] ?? 0
    const high = level.max[block] ?? 0
    if (low < least) least = low
    if (high > greatest) greatest = high
    i += level.block
  }
  return [least, greatest]
}

function coarsest(pyramid: Pyramid, start: number, end: number): PyramidLevel | null {
  for (let n = pyramid.levels.length - 1; n >= 0; n--) {
    const level = pyramid.levels[n]
    if (level !== undefined && start % level.block === 0 && start + level.block <= end) return level
  }
  return null
}
