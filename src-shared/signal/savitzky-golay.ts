/**
 * Smoothing weights of a Savitzky–Golay filter: value at the centre of the polynomial of `order` fitted by least
 * squares to `points` (odd) samples. Source: Savitzky & Golay 1964; built here from discrete orthogonal (Gram)
 * polynomials. An even `points` is raised by one; `order` is limited to points − 1.
 */
export function savitzkyGolayWeights(points: number, order: number): Float64Array {
  const m = Math.floor(points / 2)
  const width = 2 * m + 1
  const degree = Math.min(order, width - 1)
  const weights = new Float64Array(width)
  // Three-term recurrence of monic orthogonal polynomials on −m … m.
  let previous = new Float64Array(width)
  let current = new Float64Array(width).fill(1)
  let previousNorm = 1
  for (let j = 0; j <= degree; j++) {
    let norm = 0
    for (let i = 0; i < width; i++) norm += current[i]! ** 2
    const centre = current[m]!
    for (let i = 0; i < width; i++) weights[i]! += (centre * current[i]!) / norm
    const next = new Float64Array(width)
    const beta = j === 0 ? 0 : norm / previousNorm
    for (let i = 0; i < width; i++) next[i] = (i - m) * current[i]! - beta * previous[i]!
    previous = current
    current = next
    previousNorm = norm
  }
  return weights
}

/** Savitzky–Golay smoothing; samples beyond the ends are taken as the first and last value. */
export function savitzkyGolay(values: Float64Array, points: number, order: number): Float64Array {
  const weights = savitzkyGolayWeights(points, order)
  const m = weights.length >> 1
  const n = values.length
  const out = new Float64Array(n)
  for (let k = 0; k < n; k++) {
    let sum = 0
    if (k >= m && k < n - m) for (let i = -m; i <= m; i++) sum += weights[i + m]! * values[k + i]!
    else for (let i = -m; i <= m; i++) sum += weights[i + m]! * values[Math.min(n - 1, Math.max(0, k + i))]!
    out[k] = sum
  }
  return out
}
