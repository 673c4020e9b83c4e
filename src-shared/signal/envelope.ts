/** Min/max envelopes for drawing: every sample is inside the band that is drawn, whatever the zoom. */
import type { RawTrace } from '../domain/capture.ts'
import type { Envelope } from '../domain/views.ts'

type Samples = Int16Array | Float32Array

/**
 * Envelope of the part of a trace between two instants, in volts.
 *
 * `fromS` and `toS` are seconds from the first sample; they are clipped to the record, and the samples nearest outside
 * them are included so that a drawn line reaches the edge of the picture. At most `columns` columns come back. Column k
 * covers whole samples (its borders rounded down to one) and neighbours share none, so no sample is missed and none
 * counted twice. When the part holds no more samples than columns, the columns are the samples themselves (min = max,
 * step = sample interval).
 *
 * Empty when the record is empty or the span lies outside it. Throws RangeError for fewer than one column.
 */
export function envelopeOf(trace: RawTrace, fromS: number, toS: number, columns: number): Envelope {
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
    const [least, greatest] = extremes(samples, start, end)
    const a = least * scaleV + offsetV
    const b = greatest * scaleV + offsetV
    min[column] = Math.min(a, b)
    max[column] = Math.max(a, b)
  }
  return { startS: first * interval, stepS: (count / length) * interval, min, max }
}

function extremes(samples: Samples, start: number, end: number): [number, number] {
  let least = Infinity
  let greatest = -Infinity
  for (let i = start; i < end; i++) {
    const value = samples[i] ?? 0
    if (value < least) least = value
    if (value > greatest) greatest = value
  }
  return [least, greatest]
}
