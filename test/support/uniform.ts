/** √n times the largest distance between the distribution of values and that of a uniform variable (Kolmogorov). */
export function distanceFromUniform(values: readonly number[]): number {
  const n = values.length
  const sorted = [...values].sort((a, b) => a - b)
  return Math.sqrt(n) * Math.max(...sorted.map((x, i) => Math.max(Math.abs(x - i / n), Math.abs(x - (i + 1) / n))))
}
