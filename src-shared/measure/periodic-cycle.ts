/** One mean cycle of a periodic record and what is read from it. */

/** Samples per cycle below which peaks, flicker index and duty are not read (a sine's peak is then missed by over 1.2 %). */
export const MIN_SAMPLES_PER_CYCLE = 20

/** Means of blocks of `factor` samples; what is left over at the end is dropped. */
export function blockMeans(values: ArrayLike<number>, factor: number): Float64Array {
  const means = new Float64Array(Math.floor(values.length / factor))
  for (let i = 0; i < means.length; i++) {
    let block = 0
    for (let j = 0; j < factor; j++) block += values[i * factor + j] as number
    means[i] = block / factor
  }
  return means
}

/**
 * Mean of the even and of the odd cycles: every whole cycle sampled at the same phases by linear interpolation, then
 * averaged, which lowers noise and leaves the waveform. Phases per cycle = samples per cycle (rounded). Null without two
 * whole cycles.
 */
export function meanCycles(
  values: ArrayLike<number>,
  sampleRateHz: number,
  frequencyHz: number,
): { even: Float64Array; odd: Float64Array; cycles: number } | null {
  const period = sampleRateHz / frequencyHz
  // A last cycle may end on the sample after the record when that sample is never touched.
  const phases = Math.max(2, Math.round(period))
  const cycles = Math.floor((values.length - 1 + period / phases) / period + 1e-9)
  if (cycles < 2) return null
  const halves = [new Float64Array(phases), new Float64Array(phases)] as const
  const last = values.length - 1
  for (let c = 0; c < cycles; c++) {
    const half = halves[c & 1] as Float64Array
    for (let b = 0; b < phases; b++) {
      const at = Math.min(last, (c + b / phases) * period)
      const low = Math.floor(at)
      const first = values[low] as number
      const next = values[Math.min(last, low + 1)] as number
      half[b] = (half[b] as number) + first + (at - low) * (next - first)
    }
  }
  const [even, odd] = halves
  const evens = Math.ceil(cycles / 2)
  for (let b = 0; b < phases; b++) {
    even[b] = (even[b] as number) / evens
    odd[b] = (odd[b] as number) / (cycles - evens)
  }
  return { even, odd, cycles }
}

export interface CycleReading {
  readonly mean: number
  readonly min: number
  readonly max: number
  /** Standard deviation of the cycle around its mean. */
  readonly rms: number
  /** Share of the cycle above (max + min)/2. */
  readonly duty: number
  /** Area above the mean ÷ whole area = ½·mean|L − L̄| / L̄ (IES flicker index; from memory). Null when the mean is not positive. */
  readonly flickerIndex: number | null
  /** 100·(max − min)/(max + min), Michelson (IES percent flicker, IEEE 1789 "Mod %"; from memory). Null when max + min is not positive. */
  readonly percentFlicker: number | null
  /** 100·(max − min)/mean; differs from percent flicker unless the waveform is symmetric. */
  readonly peakToPeakOverMean: number | null
}

/** Reads one cycle of luminance (dark offset already taken off). */
export function readCycle(cycle: ArrayLike<number>): CycleReading {
  const n = cycle.length
  let sum = 0
  let min = Infinity
  let max = -Infinity
  for (let i = 0; i < n; i++) {
    const value = cycle[i] as number
    sum += value
    min = Math.min(min, value)
    max = Math.max(max, value)
  }
  const mean = sum / n
  let deviation = 0
  let squares = 0
  for (let i = 0; i < n; i++) {
    const difference = (cycle[i] as number) - mean
    deviation += Math.abs(difference)
    squares += difference * difference
  }
  return {
    mean,
    min,
    max,
    rms: Math.sqrt(squares / n),
    duty: shareAbove(cycle, (max + min) / 2),
    flickerIndex: mean > 0 ? deviation / n / (2 * mean) : null,
    percentFlicker: max + min > 0 ? (100 * (max - min)) / (max + min) : null,
    peakToPeakOverMean: mean > 0 ? (100 * (max - min)) / mean : null,
  }
}

/** Share of a cycle spent above a level, crossings by linear interpolation, the cycle closed on itself. */
function shareAbove(cycle: ArrayLike<number>, level: number): number {
  const n = cycle.length
  let above = 0
  for (let i = 0; i < n; i++) {
    const a = (cycle[i] as number) - level
    const b = (cycle[(i + 1) % n] as number) - level
    if (a >= 0 && b >= 0) above += 1
    else if (a >= 0 || b >= 0) above += Math.max(a, b) / Math.abs(a - b)
  }
  return above / n
}
