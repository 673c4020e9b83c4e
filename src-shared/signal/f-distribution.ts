import { incompleteBeta } from './distributions.ts'

/** P(F > x) of Fisher's F with `d1` and `d2` degrees of freedom; x ≥ 0. RangeError otherwise. (DLMF 8.17.) */
export function fTail(x: number, d1: number, d2: number): number {
  if (!(x >= 0)) throw new RangeError(`fTail needs x ≥ 0, got ${x}`)
  return x === Infinity ? 0 : incompleteBeta(d2 / (d2 + d1 * x), d2 / 2, d1 / 2)
}

/** x with P(F > x) = `tail`, 0 < tail < 1, by halving; relative error about 1e-12. RangeError otherwise. */
export function fUpper(tail: number, d1: number, d2: number): number {
  if (!(tail > 0 && tail < 1)) throw new RangeError(`fUpper needs 0 < tail < 1, got ${tail}`)
  let high = 1
  while (fTail(high, d1, d2) > tail) high *= 2
  let low = 0
  while (high - low > 1e-13 * high) {
    const x = 0.5 * (low + high)
    if (fTail(x, d1, d2) > tail) low = x
    else high = x
  }
  return high
}

/** P(F > x) of F(2, 2m) in closed form: (1 + x/m)^(−m). */
export function fTail2(x: number, m: number): number {
  return Math.exp(-m * Math.log1p(Math.max(0, x) / m))
}

/** x with P(F > x) = `tail` of F(2, 2m) in closed form. */
export function fUpper2(tail: number, m: number): number {
  return m * Math.expm1(-Math.log(tail) / m)
}
