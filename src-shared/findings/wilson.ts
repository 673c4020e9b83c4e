/** Two-sided 95 % point of the normal distribution. */
const Z95 = 1.959963984540054

/** Wilson score interval of k of n, as shares 0–1; honest also when k is 0 or n. (E. B. Wilson 1927, from memory.) */
export function wilson95(k: number, n: number): readonly [number, number] {
  const z2 = Z95 ** 2
  const centre = (k + z2 / 2) / (n + z2)
  const half = (Z95 / (n + z2)) * Math.sqrt((k * (n - k)) / n + z2 / 4)
  return [k === 0 ? 0 : centre - half, k === n ? 1 : centre + half]
}
