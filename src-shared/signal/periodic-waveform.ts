import { integralTo, windowMean, type Series } from './series.ts'

/**
 * Complex amplitude of a Hann-weighted window at a frequency (cycles per sample), phase referred to sample 0. Long windows
 * are averaged in blocks of some samples first.
 */
export function demodulate(
  series: Series,
  first: number,
  end: number,
  frequency: number,
  block = Math.max(1, Math.min(Math.floor((end - first) / 2048), Math.floor(1 / (16 * frequency)))),
): { re: number; im: number; amplitude: number; centre: number } {
  const points = Math.floor((end - first) / block)
  const mean = windowMean(series, first, first + points * block)
  let re = 0
  let im = 0
  const step = 2 * Math.PI * frequency * block
  const c1 = Math.cos(step)
  const s1 = Math.sin(step)
  const start = 2 * Math.PI * frequency * (first + (block - 1) / 2)
  let c = Math.cos(start)
  let s = Math.sin(start)
  const wStep = (2 * Math.PI) / points
  const wc1 = Math.cos(wStep)
  const ws1 = Math.sin(wStep)
  let wc = Math.cos(wStep / 2)
  let ws = Math.sin(wStep / 2)
  for (let k = 0; k < points; k++) {
    const at = first + k * block
    const y = (block === 1 ? series.v[at]! : windowMean(series, at, at + block)) - mean
    const weighted = y * (0.5 - 0.5 * wc)
    re += weighted * c
    im -= weighted * s
    const cNext = c * c1 - s * s1
    s = s * c1 + c * s1
    c = cNext
    const wcNext = wc * wc1 - ws * ws1
    ws = ws * wc1 + wc * ws1
    wc = wcNext
  }
  const scale = 4 / points
  return { re: re * scale, im: im * scale, amplitude: Math.hypot(re, im) * scale, centre: first + (points * block) / 2 }
}

/**
 * Frequency refined from the phase a component gains between the two halves of each window and, once that fixes the
 * number of turns, between windows far apart. Inputs and result in cycles per sample.
 */
export function refineFrequency(
  series: Series,
  windows: readonly (readonly [number, number])[],
  estimate: number,
): number {
  let frequency = estimate
  for (let round = 0; round < 3; round++) {
    let weight = 0
    let sum = 0
    for (const [first, end] of windows) {
      const middle = Math.floor((first + end) / 2)
      if ((middle - first) * frequency < 3) continue
      const a = demodulate(series, first, middle, frequency)
      const b = demodulate(series, middle, end, frequency)
      const turn = Math.atan2(b.im * a.re - b.re * a.im, b.re * a.re + b.im * a.im)
      const span = b.centre - a.centre
      const w = a.amplitude * b.amplitude * span * span
      sum += (w * turn) / (2 * Math.PI * span)
      weight += w
    }
    if (!(weight > 0)) return frequency
    const change = sum / weight
    frequency += change
    if (Math.abs(change) < 1e-9 * frequency) break
  }
  return frequency
}

/** One cycle of a periodic waveform, `values[b]` covering phase b/n … (b+1)/n of a cycle that starts at sample 0. */
export interface CycleWaveform {
  readonly values: Float64Array
  readonly mean: number
  readonly min: number
  readonly max: number
}

/**
 * Mean cycle of a window folded at `frequency` (cycles per sample). Bins without a sample take their neighbour's
 * value. @returns null when the window holds less than one whole cycle.
 */
export function foldCycle(
  series: Series,
  first: number,
  end: number,
  frequency: number,
  bins: number,
): CycleWaveform | null {
  const cycles = Math.floor((end - first) * frequency)
  if (cycles < 1) return null
  const last = Math.min(end, first + Math.round(cycles / frequency))
  const sums = new Float64Array(bins)
  const counts = new Float64Array(bins)
  let phase = (first * frequency) % 1
  for (let k = first; k < last; k++) {
    const bin = Math.min(bins - 1, (phase * bins) | 0)
    sums[bin]! += series.v[k]!
    counts[bin]!++
    phase += frequency
    if (phase >= 1) phase -= Math.floor(phase)
  }
  let mean = 0
  let min = Infinity
  let max = -Infinity
  let known = -1
  for (let b = 0; b < bins; b++) if (counts[b]! > 0) known = b
  if (known < 0) return null
  let carried = sums[known]! / counts[known]!
  for (let b = 0; b < bins; b++) {
    if (counts[b]! > 0) carried = sums[b]! / counts[b]!
    sums[b] = carried
    mean += carried / bins
    if (carried < min) min = carried
    if (carried > max) max = carried
  }
  return { values: sums, mean, min, max }
}

/**
 * Backlight waveform over one cycle on a fine phase grid: each whole cycle of the window is read at `bins` phases and
 * averaged. Unlike folding, it follows steep edges without a bin's width of smear.
 */
export function meanCycle(
  series: Series,
  first: number,
  end: number,
  frequency: number,
  bins: number,
): CycleWaveform | null {
  const cycles = Math.floor((end - 1 - first) * frequency)
  if (cycles < 1) return null
  const period = 1 / frequency
  const values = new Float64Array(bins)
  const offset = Math.ceil(first * frequency) * period
  const fits = Math.floor((end - 1 - offset) * frequency)
  const used = Math.max(1, fits)
  const start = fits >= 1 ? offset : first
  const shift = fits >= 1 ? 0 : ((first * frequency) % 1) * bins
  let mean = 0
  let min = Infinity
  let max = -Infinity
  const width = period / bins
  for (let b = 0; b < bins; b++) {
    let sum = 0
    for (let c = 0; c < used; c++) {
      const at = start + c * period + b * width
      sum += (integralTo(series, at + width, 0, 0) - integralTo(series, at, 0, 0)) / width
    }
    const value = sum / used
    values[Math.floor(b + shift) % bins] = value
    mean += value / bins
    if (value < min) min = value
    if (value > max) max = value
  }
  return { values, mean, min, max }
}
