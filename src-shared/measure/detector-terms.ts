/** What a detector stated in the recipe adds to the times it takes part in. */
import type { Analysis } from './analysis.ts'
import { addTerm } from './budget.ts'

/** Largest detector-to-signal ratio up to which root-sum-square removes the detector within 1.5 %. */
export const CORRECTION_LIMIT = 0.2

/** By how much a detector lengthens a duration as measured, by root-sum-square, both in one unit. */
export function broadenedBy(duration: number, detector: number): number {
  const rest = duration * duration - detector * detector
  return duration - (rest > 0 ? Math.sqrt(rest) : 0)
}

/**
 * Broadening of a first-order edge by a detector of one pole over what root-sum-square makes of it, at most (1.73 at a
 * ratio of 0.2, 1.48 at 0.55; other edges stay under it).
 */
export const DETECTOR_BROADENS = 1.75

/**
 * What a detector moves by at most, in parts of its own 10–90 % duration: the instant a band is entered against the onset,
 * and the onset against the light itself. Computed for one and four poles before first-order, cosine and ramp edges up
 * to a ratio of 0.55 (half widths of a uniform spread).
 */
export const DETECTOR_ARRIVAL = 0.5
export const DETECTOR_ONSET = 0.35

/** Adds the detector's part of a time from onset to the budget, samples. */
export function addDetector({ input, rate }: Analysis, share: number): void {
  const { detectorS } = input.recipe
  if (detectorS !== null) addTerm('detector', (share * detectorS * rate) / Math.sqrt(3))
}
