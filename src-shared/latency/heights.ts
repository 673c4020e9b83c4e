/** Whether a picture is shown whole or torn, told by when the light comes at several heights of the screen. */
import { studentT95 } from '#shared/signal/distributions.ts'
import type { DelayDistribution } from './distribution.ts'

export interface HeightRun {
  /** Height on the screen, 0 top to 1 bottom. */
  readonly row: number
  readonly delays: DelayDistribution
}

export interface Presentation {
  /** Later at the bottom than at the top by this much over the whole height, and its 95 % half width; unit of the delays. */
  readonly slope: number
  readonly u95: number
  readonly verdict: 'synchronised' | 'tearing' | 'cannot-tell'
}

/** Heights closer together than this share of the screen tell too little of its slope. */
const LEAST_SPAN = 0.5

/**
 * Synchronised, a change is scanned from top to bottom, so that its light comes later by nearly one frame at the
 * bottom; torn, it lands at the next pass of each row, and all heights wait alike. Half a frame lies between them and
 * divides where the slope's interval leaves it out. A backlight that flashes lights all heights at once: then this
 * says nothing. Weighted least squares over at least two heights half a screen apart; null otherwise.
 * @param frame one refresh period in the unit of the delays.
 */
export function presentationOf(runs: readonly HeightRun[], frame: number): Presentation | null {
  const rows = runs.map(({ row }) => row)
  if (runs.length < 2 || Math.max(...rows) - Math.min(...rows) < LEAST_SPAN) return null
  const points = runs.map(({ row, delays }) => ({
    row,
    mean: delays.mean,
    weight: 1 / Math.max(delays.sd ** 2 / delays.n, 1e-12),
  }))
  const total = points.reduce((sum, { weight }) => sum + weight, 0)
  const centre = points.reduce((sum, { row, weight }) => sum + weight * row, 0) / total
  const mean = points.reduce((sum, point) => sum + point.weight * point.mean, 0) / total
  const spread = points.reduce((sum, { row, weight }) => sum + weight * (row - centre) ** 2, 0)
  const slope =
    points.reduce((sum, point) => sum + point.weight * (point.row - centre) * (point.mean - mean), 0) / spread
  const fewest = Math.min(...runs.map(({ delays }) => delays.n))
  const u95 = studentT95(fewest - 1) / Math.sqrt(spread)
  const verdict = slope - u95 > frame / 2 ? 'synchronised' : slope + u95 < frame / 2 ? 'tearing' : 'cannot-tell'
  return { slope, u95, verdict }
}
