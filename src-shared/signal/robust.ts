/** k-th smallest (0-based) of the first `n` values; reorders them. Expected O(n). */
export function selectInPlace(values: Float64Array, k: number, n: number = values.length): number {
  let left = 0
  let right = n - 1
  while (left < right) {
    const pivot = values[(left + right) >> 1]!
    let i = left
    let j = right
    while (i <= j) {
      while (values[i]! < pivot) i++
      while (values[j]! > pivot) j--
      if (i <= j) {
        const swap = values[i]!
        values[i] = values[j]!
        values[j] = swap
        i++
        j--
      }
    }
    if (k <= j) right = j
    else if (k >= i) left = i
    else break
  }
  return values[k]!
}

/** Median of the first `n` values (mean of the middle two when n is even); reorders them. NaN when n is 0. */
export function medianInPlace(values: Float64Array, n: number = values.length): number {
  if (n === 0) return Number.NaN
  const upper = selectInPlace(values, n >> 1, n)
  if (n % 2 === 1) return upper
  let lower = values[0]!
  for (let k = 1; k < n >> 1; k++) if (values[k]! > lower) lower = values[k]!
  return (lower + upper) / 2
}

/** 1/Φ⁻¹(0.75): turns a median absolute deviation into the standard deviation of a normal variable. */
export const MAD_TO_SIGMA = 1.4826022185056018

/** Mean and sample standard deviation (n − 1) of a window; sd is 0 for one value, both NaN for none. */
export function meanSd(values: ArrayLike<number>, first = 0, end = values.length): { mean: number; sd: number } {
  const n = end - first
  if (n <= 0) return { mean: Number.NaN, sd: Number.NaN }
  let sum = 0
  for (let k = first; k < end; k++) sum += values[k]!
  const mean = sum / n
  if (n === 1) return { mean, sd: 0 }
  let squares = 0
  for (let k = first; k < end; k++) squares += (values[k]! - mean) ** 2
  return { mean, sd: Math.sqrt(squares / (n - 1)) }
}
