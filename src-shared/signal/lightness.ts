/**
 * CIE 1976 lightness L* (ISO/CIE 11664-4; constants from memory, exact fractions 216/24389 and 24389/27): equal steps
 * look about equal, 0 is no light and 100 the white it is counted from.
 */

/** Relative luminance up to which L* is proportional to it. */
const LINEAR_TO = 216 / 24389
/** L* per relative luminance there. */
const SLOPE = 24389 / 27

/** L* of a luminance relative to white. Above 1 it goes on past 100; below 0 the straight line at black goes on. */
export function lightness(relative: number): number {
  return relative <= LINEAR_TO ? SLOPE * relative : 116 * Math.cbrt(relative) - 16
}

/** Luminance relative to white of an L*; inverse of `lightness`. */
export function luminanceOf(lStar: number): number {
  return lStar <= 8 ? lStar / SLOPE : ((lStar + 16) / 116) ** 3
}
