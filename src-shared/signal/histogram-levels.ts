/**
 * State levels from the histogram of a waveform: range split into `bins`, lower and upper half of the occupied bins,
 * each half's mode (bin centre) or mean. Source: IEEE Std 181 histogram method as given in public documentation
 * (read); bin centre = min + (k − ½)·range/bins. The mode therefore lies up to half a bin inside a noise-free level.
 * @returns null when the values do not vary.
 */
export function histogramLevels(
  values: Float64Array,
  bins: number,
  statistic: 'mode' | 'mean',
): { low: number; high: number } | null {
  const n = values.length
  let min = Infinity
  let max = -Infinity
  for (let k = 0; k < n; k++) {
    const y = values[k]!
    if (y < min) min = y
    if (y > max) max = y
  }
  const range = max - min
  if (!(range > 0)) return null
  const counts = new Float64Array(bins)
  const sums = new Float64Array(bins)
  const scale = bins / range
  for (let k = 0; k < n; k++) {
    const y = values[k]!
    const bin = Math.min(bins - 1, Math.floor((y - min) * scale))
    counts[bin]!++
    sums[bin]! += y
  }
  const first = 0
  const last = bins - 1
  const split = Math.floor(first + (last - first) / 2)
  const level = (from: number, to: number): number => {
    if (statistic === 'mean') {
      let count = 0
      let sum = 0
      for (let bin = from; bin <= to; bin++) {
        count += counts[bin]!
        sum += sums[bin]!
      }
      return sum / count
    }
    let best = from
    for (let bin = from; bin <= to; bin++) if (counts[bin]! > counts[best]!) best = bin
    return min + (best + 0.5) / scale
  }
  return { low: level(first, split), high: level(split + 1, last) }
}
