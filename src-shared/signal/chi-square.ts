import { logGamma } from './distributions.ts'

/**
 * P(χ² > x) with `dof` degrees of freedom; x ≥ 0, dof > 0, RangeError otherwise. Series below the mean, continued
 * fraction (modified Lentz) above it: DLMF 8.7.1 and 8.9.2.
 */
export function chiSquareTail(x: number, dof: number): number {
  if (!(x >= 0 && dof > 0)) throw new RangeError(`chiSquareTail(${x}, ${dof}) is not defined`)
  if (x === 0) return 1
  if (x === Infinity) return 0
  const a = dof / 2
  const z = x / 2
  const front = Math.exp(a * Math.log(z) - z - logGamma(a))
  if (z < a + 1) {
    let term = 1 / a
    let sum = term
    for (let k = 1; term > 1e-17 * sum; k++) {
      term *= z / (a + k)
      sum += term
    }
    return Math.max(0, 1 - front * sum)
  }
  let b = z + 1 - a
  let c = 1e300
  let d = 1 / b
  let h = d
  for (let k = 1; k <= 10_000; k++) {
    const an = -k * (k - a)
    b += 2
    d = 1 / (an * d + b)
    c = b + an / c
    const step = c * d
    h *= step
    if (Math.abs(step - 1) < 1e-15) break
  }
  return front * h
}
