/** What two cursors on a curve read. Times in ms from the plot's origin. */
import type { Ladder } from '#shared/domain/capture.ts'
import type { Landmarks } from '#shared/domain/result.ts'
import { codeOfVolts, ladderCurve } from '#shared/measure/ladder-curve.ts'

interface Curve {
  readonly x: Float64Array
  readonly min: Float32Array
  readonly max: Float32Array
}

export interface CursorValue {
  readonly ms: number
  /** Middle of the column under the cursor, V; null outside the record. */
  readonly volts: number | null
  /** Half of what the column spans, V; 0 where columns are samples. */
  readonly halfV: number
}

/** The curve at an instant: between samples on the line that joins them, within a wider column its middle. */
export function readAt({ x, min, max }: Curve, ms: number): CursorValue {
  const last = x.length - 1
  if (last < 1 || ms < (x[0] as number) || ms > (x[last] as number)) return { ms, volts: null, halfV: 0 }
  let low = 0
  let high = last
  while (high - low > 1) {
    const middle = (low + high) >> 1
    if ((x[middle] as number) <= ms) low = middle
    else high = middle
  }
  const part = (ms - (x[low] as number)) / ((x[high] as number) - (x[low] as number))
  const mid = (i: number) => ((min[i] as number) + (max[i] as number)) / 2
  const half = (i: number) => ((max[i] as number) - (min[i] as number)) / 2
  return { ms, volts: mid(low) + part * (mid(high) - mid(low)), halfV: Math.max(half(low), half(high)) }
}

export interface CursorDifference {
  readonly deltaMs: number
  /** 1/|Δt|, Hz; null when the cursors stand at the same instant. */
  readonly rateHz: number | null
  readonly deltaV: number | null
  /** ΔL in percent of the step; null without levels. */
  readonly deltaPct: number | null
  /** Difference of the grey-level codes through the ladder; null without a usable one. */
  readonly deltaCode: number | null
  /** Why there are no codes; empty when there are. */
  readonly codeReason: string
}

/** B less A. */
export function cursorDifference(
  a: CursorValue,
  b: CursorValue,
  marks: Landmarks | null,
  ladder: Ladder | null,
): CursorDifference {
  const deltaMs = b.ms - a.ms
  const deltaV = a.volts === null || b.volts === null ? null : b.volts - a.volts
  const step = marks === null || marks.beforeV === null || marks.afterV === null ? 0 : marks.afterV - marks.beforeV
  const curve = ladder === null ? null : ladderCurve(ladder)
  const codeReason = curve === null ? 'no ladder' : 'problem' in curve ? curve.problem : ''
  return {
    deltaMs,
    rateHz: deltaMs === 0 ? null : 1000 / Math.abs(deltaMs),
    deltaV,
    deltaPct: deltaV === null || step === 0 ? null : (100 * deltaV) / Math.abs(step),
    deltaCode:
      curve === null || 'problem' in curve || a.volts === null || b.volts === null
        ? null
        : codeOfVolts(curve.curve, b.volts) - codeOfVolts(curve.curve, a.volts),
    codeReason,
  }
}
