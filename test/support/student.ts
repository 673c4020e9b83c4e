import { studentTUpper } from '#shared/signal/distributions.ts'

/** t with P(T ≤ t) = p; 0 < p < 1, `dof` > 0 (Infinity gives the normal quantile). RangeError otherwise. */
export function studentTQuantile(p: number, dof: number): number {
  if (!(p > 0 && p < 1)) throw new RangeError(`studentTQuantile needs 0 < p < 1, got ${p}`)
  return p < 0.5 ? -studentTUpper(p, dof) : studentTUpper(1 - p, dof)
}
