import type { RawTrace } from '#shared/domain/capture.ts'

/** Conditioned volts in the shape of a recording, for drawing. */
export function asVolts(volts: Float64Array, like: RawTrace): RawTrace {
  return { ...like, format: 'real32', samples: Float32Array.from(volts), scaleV: 1, offsetV: 0 }
}
