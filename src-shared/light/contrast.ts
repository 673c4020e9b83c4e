/** Contrast of white over black, and what can be said of it where black lies in the detector's dark noise. */
import { normalCdf } from '#shared/signal/normal.ts'
import { normalQuantile } from '#shared/signal/distributions.ts'

export interface Contrast {
  readonly ratio: number
  /** True where black cannot be told from no light: the ratio is then a lower bound, 95 % one-sided. */
  readonly atLeast: boolean
  /** Standard uncertainty of the ratio; null for a bound. */
  readonly u: number | null
}

/** One-sided 95 % point of the normal distribution. */
const ONE_SIDED = 1.6448536269514722

/**
 * White and black above the dark level, in any unit. Black counts as seen from 1.645 u on (Currie's critical level);
 * under it the bound divides by the 95 % quantile of a normal distribution N(black, u) cut to light of 0 and above,
 * which stays safe when the reading is below zero.
 * @param u standard uncertainties of both, the dark level's part included. Null unless white is above 0.
 */
export function contrast(
  white: { readonly value: number; readonly u: number },
  black: { readonly value: number; readonly u: number },
): Contrast | null {
  if (!(white.value > 0)) return null
  if (black.value > 0 && black.value >= ONE_SIDED * black.u) {
    const ratio = white.value / black.value
    return { ratio, atLeast: false, u: ratio * Math.hypot(white.u / white.value, black.u / black.value) }
  }
  if (!(black.u > 0)) return null
  return { ratio: white.value / mostBlack(black), atLeast: true, u: null }
}

/** 95 % quantile of N(value, u) cut to 0 and above. */
function mostBlack({ value, u }: { readonly value: number; readonly u: number }): number {
  const below = normalCdf(-value / u)
  return value + u * normalQuantile(below + 0.95 * (1 - below))
}
