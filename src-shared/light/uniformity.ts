/** How even a white picture is over a grid of places: every common figure, none preferred. */
export interface Uniformity {
  readonly rows: number
  readonly columns: number
  readonly mean: number
  readonly minOverMax: number
  /** Against the middle point. */
  readonly minOverCentre: number
  readonly rangeOverMean: number
  /** 200·(max − min)/(max + min), as in AAPM TG18 (from memory). */
  readonly deviationPct: number
  /** Each point over the largest, row by row from top left. */
  readonly map: readonly (readonly number[])[]
}

/** Side of a square grid of 9 or 25 points; null for any other count. */
const gridSide = (points: number): 3 | 5 | null => (points === 9 ? 3 : points === 25 ? 5 : null)

/** @param points luminances row by row from top left, 9 or 25 of them, all above 0; null otherwise. */
export function uniformity(points: readonly number[]): Uniformity | null {
  const side = gridSide(points.length)
  if (side === null || points.some((value) => !(value > 0))) return null
  const [min, max] = [Math.min(...points), Math.max(...points)]
  const mean = points.reduce((sum, value) => sum + value, 0) / points.length
  const centre = points[(points.length - 1) / 2] as number
  return {
    rows: side,
    columns: side,
    mean,
    minOverMax: min / max,
    minOverCentre: min / centre,
    rangeOverMean: (max - min) / mean,
    deviationPct: (200 * (max - min)) / (max + min),
    map: Array.from({ length: side }, (_, row) =>
      points.slice(row * side, (row + 1) * side).map((value) => value / max),
    ),
  }
}
