/**
 * Monotone piecewise cubic interpolation through increasing knots (Fritsch & Carlson; end slopes and harmonic mean as
 * in PCHIP). `x` strictly increasing, `y` of the same length ≥ 2.
 */
export interface MonotoneCurve {
  readonly x: Float64Array
  readonly y: Float64Array
  readonly slope: Float64Array
}

function endSlope(h0: number, h1: number, d0: number, d1: number): number {
  const slope = ((2 * h0 + h1) * d0 - h0 * d1) / (h0 + h1)
  if (Math.sign(slope) !== Math.sign(d0)) return 0
  if (Math.sign(d0) !== Math.sign(d1) && Math.abs(slope) > 3 * Math.abs(d0)) return 3 * d0
  return slope
}

export function monotoneCurve(x: Float64Array, y: Float64Array): MonotoneCurve {
  const n = x.length
  const slope = new Float64Array(n)
  const h = new Float64Array(n - 1)
  const d = new Float64Array(n - 1)
  for (let k = 0; k < n - 1; k++) {
    h[k] = x[k + 1]! - x[k]!
    d[k] = (y[k + 1]! - y[k]!) / h[k]!
  }
  if (n === 2) {
    slope.fill(d[0]!)
    return { x, y, slope }
  }
  for (let k = 1; k < n - 1; k++) {
    const a = d[k - 1]!
    const b = d[k]!
    if (a * b <= 0) continue
    const w1 = 2 * h[k]! + h[k - 1]!
    const w2 = h[k]! + 2 * h[k - 1]!
    slope[k] = (w1 + w2) / (w1 / a + w2 / b)
  }
  slope[0] = endSlope(h[0]!, h[1]!, d[0]!, d[1]!)
  slope[n - 1] = endSlope(h[n - 2]!, h[n - 3]!, d[n - 2]!, d[n - 3]!)
  return { x, y, slope }
}

function interval(knots: Float64Array, at: number): number {
  let low = 0
  let high = knots.length - 2
  while (low < high) {
    const middle = (low + high + 1) >> 1
    if (knots[middle]! <= at) low = middle
    else high = middle - 1
  }
  return low
}

function hermite(curve: MonotoneCurve, k: number, t: number): number {
  const h = curve.x[k + 1]! - curve.x[k]!
  const u = 1 - t
  return (
    u * u * (1 + 2 * t) * curve.y[k]! +
    t * t * (3 - 2 * t) * curve.y[k + 1]! +
    h * t * u * (u * curve.slope[k]! - t * curve.slope[k + 1]!)
  )
}

/** Value at `at`, which must lie between the first and last knot. */
export function evaluateCurve(curve: MonotoneCurve, at: number): number {
  const k = interval(curve.x, at)
  return hermite(curve, k, (at - curve.x[k]!) / (curve.x[k + 1]! - curve.x[k]!))
}

/** Inverse of an increasing curve at `value`, which must lie between its first and last y. Newton kept by bisection. */
export function invertCurve(curve: MonotoneCurve, value: number): number {
  const k = interval(curve.y, value)
  const y0 = curve.y[k]!
  const y1 = curve.y[k + 1]!
  const h = curve.x[k + 1]! - curve.x[k]!
  if (y1 <= y0) return curve.x[k]!
  let low = 0
  let high = 1
  let t = (value - y0) / (y1 - y0)
  for (let i = 0; i < 60; i++) {
    const error = hermite(curve, k, t) - value
    if (error > 0) high = t
    else low = t
    if (high - low < 1e-14 || error === 0) break
    const e = 1e-6
    const t2 = t + e < 1 ? t + e : t - e
    const gradient = (hermite(curve, k, t2) - error - value) / (t2 - t)
    const step = gradient > 0 ? t - error / gradient : -1
    const nextT = step > low && step < high ? step : (low + high) / 2
    if (Math.abs(nextT - t) < 1e-15) break
    t = nextT
  }
  return curve.x[k]! + t * h
}
