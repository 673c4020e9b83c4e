/**
 * The liquid-crystal cell in closed form. While the drive is constant,
 *   z' = (Y − z) ÷ τ₁,  y' = (z − y) ÷ τ₂
 * so that with t counted from the segment's start
 *   y(t) = Y + k₁·exp(−t ÷ τ₁) + k₂·exp(−t ÷ τ₂).
 * A timeline is a list of such segments; y and z are continuous where they meet.
 */
import { codeOf, luminanceOf, timeConstantOf, type Panel } from './panels.ts'

export interface CellSegment {
  readonly startS: number
  readonly drive: number
  /** Relative luminance the segment tends to. */
  readonly target: number
  readonly tau1: number
  readonly tau2: number
  readonly k1: number
  readonly k2: number
}

/** A cell at rest at a code, since for ever. */
export function restingSegment(panel: Panel, code: number, startS: number): CellSegment {
  const tau1 = timeConstantOf(panel, code, code)
  return { startS, drive: code, target: luminanceOf(panel, code), tau1, tau2: tau1 * panel.lagRatio, k1: 0, k2: 0 }
}

/** Relative luminance of a segment at a time, s; before its start the segment's first value. */
export function lightOf(segment: CellSegment, timeS: number): number {
  const t = Math.max(0, timeS - segment.startS)
  return segment.target + segment.k1 * Math.exp(-t / segment.tau1) + segment.k2 * Math.exp(-t / segment.tau2)
}

/** The hidden state z of a segment at a time. */
function drivenOf(segment: CellSegment, timeS: number): number {
  const t = Math.max(0, timeS - segment.startS)
  return segment.target + segment.k1 * (1 - segment.tau2 / segment.tau1) * Math.exp(-t / segment.tau1)
}

/** The segment that follows when the drive changes at a time. */
export function drivenSegment(panel: Panel, before: CellSegment, drive: number, startS: number): CellSegment {
  const y = lightOf(before, startS)
  const z = drivenOf(before, startS)
  const target = luminanceOf(panel, drive)
  const tau1 = timeConstantOf(panel, codeOf(panel, y), drive)
  const tau2 = tau1 * panel.lagRatio
  const k1 = (z - target) / (1 - tau2 / tau1)
  return { startS, drive, target, tau1, tau2, k1, k2: y - target - k1 }
}

/** Index of the segment in force at a time; the first one also holds for everything before it. */
export function segmentAt(segments: readonly CellSegment[], timeS: number): number {
  let low = 0
  let high = segments.length - 1
  while (low < high) {
    const mid = (low + high + 1) >> 1
    if ((segments[mid] as CellSegment).startS <= timeS) low = mid
    else high = mid - 1
  }
  return low
}
