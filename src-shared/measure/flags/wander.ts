/** Noise that wanders: what the parts of one stretch differ by tells how far 1/f noise moves its slope and its mean. */
import { meanBetween, type Series } from '../../signal/series.ts'
import { LIMITS } from './budget.ts'

export interface Wander {
  /** Standard uncertainty of the change through the stretch (slope × length) if its parts differ by white noise, V. */
  readonly scatterV: number
  /** The same if they differ by 1/f noise, V. */
  readonly trendV: number
  /** By 1/f noise, of the difference of its mean to that of an equal stretch far away, V. */
  readonly farV: number
  /** Degrees of freedom of both: Student's t. */
  readonly dof: number
}

/** Blocks whose means are held against a straight line, and fewest of them. */
const BLOCKS = 16
const FEWEST_BLOCKS = 6

/**
 * Variance of the difference of the means of two equal stretches of 1/f noise, `apart` lengths from centre to centre, over
 * its density at 1 Hz (V²/Hz): (d+1)² ln(d+1) + (d−1)² ln|d−1| − 2d² ln d, whatever the length. Twice the Allan variance
 * of flicker noise, 4 ln 2, for neighbours (IEEE Std 1139); 2 ln d + 3 far apart.
 */
export function flickerApart(apart: number): number {
  const term = (x: number): number => (x === 0 ? 0 : x * x * Math.log(Math.abs(x)))
  return apart > 1e3 ? 2 * Math.log(apart) + 3 : term(apart + 1) + term(apart - 1) - 2 * term(apart)
}

interface Shares {
  /** Squares about the straight line, and variance of the change through the stretch, by 1/f noise of unit density. */
  readonly residue: number
  readonly trend: number
}
const known: (Shares | undefined)[] = []

/** Of `count` block means, least squares; from the differences between all pairs of blocks. */
export function flickerShares(count: number): Shares {
  const found = known[count]
  if (found) return found
  const middle = (count - 1) / 2
  const spread = (count * (count * count - 1)) / 12
  let residue = 0
  let trend = 0
  for (let i = 0; i < count; i++)
    for (let j = 0; j < count; j++) {
      const apart = flickerApart(Math.abs(i - j)) / 2
      const along = ((i - middle) * (j - middle)) / spread
      residue += (1 / count + along) * apart
      trend -= ((along * count * count) / spread) * apart
    }
  return (known[count] = { residue, trend })
}

/**
 * What the parts of a stretch (whole ripple periods; `period` 0 without) differ from a straight line by, taken for 1/f
 * noise, which moves slope and mean more than any noise that forgets: of white noise they tell 2.2 times too much. A beat
 * that a mean over a ripple period leaves is in it too. The density's estimate is a sum of squares, so that a change over
 * its uncertainty follows Student's t (simulated: within 2 % at 1 in 100 and 1 in 1,000).
 * @returns null where the stretch is too short to tell
 */
export function wanderOf(series: Series, first: number, end: number, period: number): Wander | null {
  const least = (end - 1 - first) / BLOCKS
  const block = period > 0 ? Math.ceil(least / period) * period : least
  const count = Math.floor((end - 1 - first) / block)
  if (count < FEWEST_BLOCKS) return null
  const middle = (count - 1) / 2
  let sum = 0
  let squares = 0
  let along = 0
  const spread = (count * (count * count - 1)) / 12
  // About the first block's mean, so that nothing is lost where the light is much more than its changes.
  const origin = meanBetween(series, first, first + block)
  for (let i = 0; i < count; i++) {
    const y = meanBetween(series, first + i * block, first + (i + 1) * block) - origin
    sum += y
    squares += y * y
    along += (i - middle) * y
  }
  const shares = flickerShares(count)
  const residue = Math.max(0, squares - (sum * sum) / count - (along * along) / spread)
  const density = residue / shares.residue
  return {
    scatterV: Math.sqrt((12 * residue) / ((count - 2) * count)),
    trendV: Math.sqrt(density * shares.trend),
    farV: Math.sqrt(density * flickerApart(LIMITS.ladderApart)),
    dof: count - 2,
  }
}
