import { normalCdf } from './normal.ts'
import { normalQuantile } from './distributions.ts'

/** Nodes and weights of Gauss–Legendre on [−1, 1], 16 points, positive half (Abramowitz & Stegun 25.4.30). */
const NODES = [
  0.0950125098376374, 0.2816035507792589, 0.4580167776572274, 0.6178762444026438, 0.755404408355003, 0.8656312023878318,
  0.9445750230732326, 0.9894009349916499,
] as const
const WEIGHTS = [
  0.1894506104550685, 0.1826034150449236, 0.1691565193950025, 0.1495959888165767, 0.1246289712555339,
  0.0951585116824928, 0.0622535239386479, 0.0271524594117541,
] as const

/**
 * Probability that a stationary Gaussian series of unit variance passes the level `u` upward between two neighbouring
 * samples of correlation `rho` (−1 < rho ≤ 1): P(x₀ ≤ u < x₁) = (1/2π)·∫ from asin ρ to π/2 of exp(−u²/(1 + sin θ)) dθ.
 * Source: bivariate normal integral (Owen's form); checked against scipy's bivariate normal in the check values.
 */
export function crossingRate(u: number, rho: number): number {
  const from = Math.asin(Math.max(-1, Math.min(1, rho)))
  const half = (Math.PI / 2 - from) / 2
  const middle = (Math.PI / 2 + from) / 2
  let sum = 0
  for (let i = 0; i < NODES.length; i++) {
    const d = half * NODES[i]!
    sum +=
      WEIGHTS[i]! * (Math.exp((-u * u) / (1 + Math.sin(middle + d))) + Math.exp((-u * u) / (1 + Math.sin(middle - d))))
  }
  return (half * sum) / (2 * Math.PI)
}

/**
 * Level that the largest of `n` samples of a Gaussian series (unit variance, neighbours correlated by `rho`) stays under
 * with probability `p`: Φ(u)·exp(−(n − 1)·ν) = p, ν the crossing rate. The reach of an extreme follows how often the
 * series crosses, not how many samples are independent for its mean.
 */
export function extremeQuantile(n: number, rho: number, p: number): number {
  let low = -4
  let high = 12
  for (let i = 0; i < 60 && high - low > 1e-9; i++) {
    const u = (low + high) / 2
    if (Math.log(normalCdf(u)) - Math.max(0, n - 1) * crossingRate(u, rho) < Math.log(p)) low = u
    else high = u
  }
  return (low + high) / 2
}

/** Grid of the table: ln n in steps of 0.5 up to e¹⁸, angle acos ρ in 24 steps of its square root. */
const LOG_STEP = 0.5
const LOG_COUNT = 37
const ANGLES = 25
const P = 0.95
let table: Float64Array | null = null

function fillTable(): Float64Array {
  const values = new Float64Array(LOG_COUNT * ANGLES)
  for (let a = 0; a < ANGLES; a++) {
    const rho = Math.cos((Math.PI / 2) * (a / (ANGLES - 1)) ** 2)
    for (let i = 0; i < LOG_COUNT; i++) values[a * LOG_COUNT + i] = extremeQuantile(Math.exp(i * LOG_STEP), rho, P)
  }
  return values
}

/**
 * `extremeQuantile` by a table (error below 0.01): ρ under 0 counts as 0, where the reach hardly changes any more. Other
 * probabilities than 0.95 by the number of samples that makes the same expected count of crossings.
 */
export function extremeReach(n: number, rho: number, p: number): number {
  if (n <= 1) return normalQuantile(p)
  table ??= fillTable()
  const equivalent = n * (Math.log(P) / Math.log(p))
  const x = Math.max(0, Math.min(LOG_COUNT - 1.001, Math.log(Math.max(1, equivalent)) / LOG_STEP))
  const angle = Math.sqrt(Math.acos(Math.max(0, Math.min(1, rho))) / (Math.PI / 2)) * (ANGLES - 1)
  const a = Math.min(ANGLES - 2, Math.floor(angle))
  const i = Math.floor(x)
  const f = x - i
  const at = a * LOG_COUNT + i
  const one = table[at]! + f * (table[at + 1]! - table[at]!)
  const two = table[at + LOG_COUNT]! + f * (table[at + LOG_COUNT + 1]! - table[at + LOG_COUNT]!)
  return one + (angle - a) * (two - one)
}
