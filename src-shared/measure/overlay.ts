import { envelopeOf } from '../signal/envelope.ts'
import type { Envelope } from '../domain/views.ts'

/** A trace as drawn: evenly sampled volts, and the instant of its 50 % crossing, s from its first sample. */
export interface AlignedTrace {
  readonly volts: Float64Array
  readonly sampleRateHz: number
  readonly crossMidS: number
}

/** Envelope of volts between two instants, in the way of `envelopeOf`. */
export function voltsEnvelope(
  volts: Float64Array,
  sampleRateHz: number,
  fromS: number,
  toS: number,
  columns: number,
): Envelope {
  const samples = Float32Array.from(volts)
  return envelopeOf({ format: 'real32', samples, sampleRateHz, scaleV: 1, offsetV: 0, rangeV: 1 }, fromS, toS, columns)
}

/** What the traces laid over so far add up to. */
export interface OverlayState {
  readonly sum: Float64Array
  readonly counted: number
  /** Samples of the part that every counted trace reaches: from … end − 1. */
  readonly from: number
  readonly end: number
}

export interface OverlayBuilder {
  readonly own: Envelope
  /** Lays one more trace over; one that counts enters the mean. Traces are not kept. */
  add(other: AlignedTrace, counts: boolean): { readonly shiftS: number; readonly envelope: Envelope }
  /**
   * Mean of those that counted and the trace minus that mean, both V, on the columns of `own` that every one of them
   * reaches; null when none counted or none of the columns is reached by all.
   */
  finish(): { readonly mean: Envelope; readonly residual: Envelope; readonly whole: boolean } | null
  /** To go on from later, with the same trace and part. */
  state(): OverlayState
}

/**
 * Lays traces over one another, aligned at their 50 % crossings, on the part of `trace` between two instants (s from its
 * first sample; clipped to the record) in at most `columns` columns. The mean is taken at the samples of `trace`, the
 * others read by linear interpolation; `whole` is false where a shorter record keeps it from reaching across the part.
 */
export function overlayOn(
  trace: AlignedTrace,
  fromS: number,
  toS: number,
  columns: number,
  begun: OverlayState | null = null,
): OverlayBuilder {
  const { volts, sampleRateHz } = trace
  const own = voltsEnvelope(volts, sampleRateHz, fromS, toS, columns)
  const length = own.min.length
  const first = Math.round(own.startS * sampleRateHz)
  const count = length === 0 ? 0 : Math.round(own.stepS * sampleRateHz * length)
  const sum = begun?.sum ?? new Float64Array(count)
  let { counted, from, end } = begun ?? { counted: 0, from: 0, end: count }
  return {
    own,
    add(other, counts) {
      const shiftS = trace.crossMidS - other.crossMidS
      const lastX = other.volts.length - 1
      if (counts) {
        counted++
        // x = position in the other trace of sample i of the part.
        const perSample = other.sampleRateHz / sampleRateHz
        const start = first * perSample - shiftS * other.sampleRateHz
        from = Math.max(from, Math.ceil(-start / perSample - 1e-9))
        end = Math.min(end, Math.floor((lastX - start) / perSample + 1e-9) + 1)
        for (let i = Math.max(0, from); i < end; i++) sum[i]! += lineAt(other.volts, start + i * perSample)
      }
      const envelope = voltsEnvelope(other.volts, other.sampleRateHz, fromS - shiftS, toS - shiftS, columns)
      return { shiftS, envelope: { ...envelope, startS: envelope.startS + shiftS } }
    },
    state: () => ({ sum, counted, from, end }),
    finish() {
      if (counted === 0) return null
      const border = (column: number): number => Math.floor((column * count) / length)
      let a = 0
      while (a < length && border(a) < from) a++
      let b = length
      while (b > a && border(b) > end) b--
      if (b <= a) return null
      const [meanMin, meanMax, restMin, restMax] = Array.from({ length: 4 }, () => new Float32Array(b - a)) as [
        Float32Array,
        Float32Array,
        Float32Array,
        Float32Array,
      ]
      for (let column = a; column < b; column++) {
        let [m0, m1, r0, r1] = [Infinity, -Infinity, Infinity, -Infinity]
        for (let i = border(column); i < border(column + 1); i++) {
          const mean = sum[i]! / counted
          const rest = volts[first + i]! - mean
          if (mean < m0) m0 = mean
          if (mean > m1) m1 = mean
          if (rest < r0) r0 = rest
          if (rest > r1) r1 = rest
        }
        meanMin[column - a] = m0
        meanMax[column - a] = m1
        restMin[column - a] = r0
        restMax[column - a] = r1
      }
      const place = { startS: own.startS + a * own.stepS, stepS: own.stepS }
      return {
        mean: { ...place, min: meanMin, max: meanMax },
        residual: { ...place, min: restMin, max: restMax },
        whole: a === 0 && b === length,
      }
    },
  }
}

/** Value of the line between samples; x within the record. */
function lineAt(volts: Float64Array, x: number): number {
  const k = Math.min(volts.length - 2, Math.max(0, Math.floor(x)))
  const y0 = volts[k]!
  return y0 + Math.min(1, Math.max(0, x - k)) * ((volts[k + 1] ?? y0) - y0)
}
