import { seededRandom } from '#shared/domain/seeded-random.ts'
import { normalQuantile } from '#shared/signal/distributions.ts'
import { meanSd } from '#shared/signal/statistics.ts'

/** Enough for u to about 8 % of itself. */
const DRAWS = 80

/**
 * Standard uncertainties of numbers made from readings that each have the same standard uncertainty, independently: the
 * readings are drawn again from normal distributions, seeded, never below 0, and the numbers made again (JCGM 101).
 * @returns one for each number; null for one that could not be made of every draw, and for all without u.
 */
export function spreadOf(
  readings: readonly number[],
  u: number | null,
  made: (drawn: readonly number[]) => readonly number[],
): readonly (number | null)[] {
  const count = made(readings).length
  if (u === null) return Array.from({ length: count }, () => null)
  const random = seededRandom(readings.length)
  // Half a step from either end, so that no draw is infinite.
  const normal = (): number => normalQuantile(Math.min(1 - 2 ** -33, random() + 2 ** -33))
  const draws = Array.from({ length: DRAWS }, () => made(readings.map((value) => Math.max(0, value + u * normal()))))
  return Array.from({ length: count }, (_, k) => {
    const numbers = draws.map((draw) => draw[k] as number)
    return numbers.every(Number.isFinite) ? meanSd(numbers).s : null
  })
}
