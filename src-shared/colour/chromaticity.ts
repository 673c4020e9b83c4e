/** Chromaticity coordinates of tristimulus values. */
export type Xyz = readonly [x: number, y: number, z: number]
export type Pair = readonly [number, number]

/** CIE 1931 x, y; null for no light. */
export function xyOf([x, y, z]: Xyz): Pair | null {
  const sum = x + y + z
  return sum > 0 ? [x / sum, y / sum] : null
}

/** XYZ of a chromaticity at a luminance; y must not be 0. */
export const xyzOf = ([x, y]: Pair, luminance = 1): Xyz => [
  (luminance * x) / y,
  luminance,
  (luminance * (1 - x - y)) / y,
]

/** CIE 1976 u′, v′ of x, y (ISO/CIE 11664-5): 4x/(−2x + 12y + 3), 9y/(…). */
export function uvPrimeOf([x, y]: Pair): Pair {
  const d = -2 * x + 12 * y + 3
  return [(4 * x) / d, (9 * y) / d]
}

/** CIE 1960 u, v, in which correlated colour temperature is defined: v = ⅔v′. */
export function uv1960Of(xy: Pair): Pair {
  const [u, v] = uvPrimeOf(xy)
  return [u, (2 / 3) * v]
}
