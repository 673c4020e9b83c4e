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

/** Bins values are counted in before the middle is selected, and fewest values for which that is less work. */
const BINS = 256
const FEWEST = 512
const counts = new Int32Array(BINS)

/**
 * Median of the first `n` values (mean of the middle two when n is even); overwrites them. NaN when n is 0. Counting
 * in bins leaves only the few around the middle to be selected from.
 */
export function medianInPlace(values: Float64Array, n: number = values.length): number {
  if (n === 0) return Number.NaN
  const low = (n - 1) >> 1
  const high = n >> 1
  const [kept, under] = n < FEWEST ? [n, 0] : keepMiddle(values, low, high, n)
  const upper = selectInPlace(values, high - under, kept)
  if (low === high) return upper
  let lower = values[0]!
  for (let k = 1; k < high - under; k++) if (values[k]! > lower) lower = values[k]!
  return (lower + upper) / 2
}

/** Moves the values of the bins that hold ranks `low` and `high` to the front: how many they are, and how many lie under. */
function keepMiddle(values: Float64Array, low: number, high: number, n: number): [kept: number, under: number] {
  let min = values[0]!
  let max = min
  for (let i = 1; i < n; i++) {
    const y = values[i]!
    if (y < min) min = y
    if (y > max) max = y
  }
  const perUnit = (BINS - 1) / (max - min)
  counts.fill(0)
  for (let i = 0; i < n; i++) counts[((values[i]! - min) * perUnit) | 0]!++
  let first = 0
  let under = 0
  while (under + counts[first]! <= low) under += counts[first++]!
  let last = first
  for (let past = under + counts[first]!; past <= high; past += counts[last]!) last++
  const span = last - first
  let kept = 0
  for (let i = 0; i < n; i++) {
    const y = values[i]!
    // Unsigned, a bin under the first counts as far beyond the last.
    if (((((y - min) * perUnit) | 0) - first) >>> 0 <= span) values[kept++] = y
  }
  return [kept, under]
}

/** 1/Φ⁻¹(0.75): turns a median absolute deviation into the standard deviation of a normal variable. */
export const MAD_TO_SIGMA = 1.4826022185056018
