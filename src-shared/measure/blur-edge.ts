import { GAUSSIAN_10_90, normalTable, TABLE_DENSITY, TABLE_REACH } from '../signal/normal.ts'
import { integralTo, type Series } from '../signal/series.ts'
import type { Levels } from './levels.ts'

/**
 * Moving edge an eye that follows it smoothly sees: the step response averaged over the frame that has just passed,
 * 0 at the level before and 1 at the level after. Before the record the level before is assumed.
 * Source: temporal-step-response method of moving-edge blur (clause from memory); one-frame box from Watson 2010.
 */
export function movingEdge(
  series: Series,
  levels: Pick<Levels, 'beforeV' | 'afterV' | 'stepV'>,
  frameSamples: number,
  x: number,
): number {
  const mean =
    (integralTo(series, x, levels.beforeV, levels.afterV) -
      integralTo(series, x - frameSamples, levels.beforeV, levels.afterV)) /
    frameSamples
  return (mean - levels.beforeV) / levels.stepV
}

export interface BlurEdge {
  /** 10–90 % width of the moving edge, samples, and its 50 % position. */
  readonly width: number
  readonly mid: number
  /** 2.563 σ of the Gaussian edge fitted over −4 … +8 frames about the step, samples; null when the fit fails. */
  readonly gaussian: number | null
  readonly slopeLow: number
  readonly slopeHigh: number
}

/**
 * Blur edge of a step whose 50 % crossing is at `mid`, O(n) by running sums.
 * @returns null when the record ends before the moving edge has passed 90 %.
 */
export function findBlurEdge(
  series: Series,
  levels: Levels,
  frameSamples: number,
  mid: number,
  fitFrame: number | null = null,
): BlurEdge | null {
  const edge = (x: number): number => movingEdge(series, levels, frameSamples, x)
  const limit = series.n - 1
  const step = Math.max(1, frameSamples / 512)
  const forward = (start: number, level: number): number | null => {
    let previous = edge(start)
    for (let x = start + step; ; x += step) {
      const at = Math.min(x, limit)
      const y = edge(at)
      if (y >= level) return at - (at - (x - step)) * ((y - level) / (y - previous || 1))
      if (x >= limit) return null
      previous = y
    }
  }
  const backward = (start: number, level: number): number | null => {
    let next = edge(start)
    for (let x = start - step; x > -2 * frameSamples; x -= step) {
      const y = edge(x)
      if (y <= level) return x + step * ((level - y) / (next - y || 1))
      next = y
    }
    return null
  }
  let start = Math.min(mid, limit)
  while (start > -frameSamples && edge(start) >= 0.5) start -= frameSamples / 4
  const x50 = forward(start, 0.5)
  if (x50 === null) return null
  const x10 = backward(x50, 0.1)
  const x90 = forward(x50, 0.9)
  if (x10 === null || x90 === null) return null
  const width = x90 - x10
  const reach = Math.max(step, width / 20)
  const slope = (x: number): number =>
    Math.max((edge(Math.min(limit, x + reach)) - edge(x - reach)) / (2 * reach), 0.05 / Math.max(width, step))
  const frame = fitFrame ?? frameSamples
  return {
    width,
    mid: x50,
    gaussian: fitGaussianEdge(edge, Math.min(mid, x50), frame, x50, width / GAUSSIAN_10_90, limit),
    slopeLow: slope(x10),
    slopeHigh: slope(x90),
  }
}

const POINTS_PER_FRAME = 32

/**
 * Least-squares fit of Φ((x − µ)/σ) to the moving edge at the middles of 32 equal parts of each frame from 4
 * frames before to 8 frames after the step (1 is taken beyond the record's end). Gauss–Newton with halving.
 * @returns 2·Φ⁻¹(0.9)·σ, or null when it does not converge
 */
export function fitGaussianEdge(
  edge: (x: number) => number,
  origin: number,
  frame: number,
  mean: number,
  sigma: number,
  limit: number,
): number | null {
  const points = 12 * POINTS_PER_FRAME
  const xs = new Float64Array(points)
  const ys = new Float64Array(points)
  for (let i = 0; i < points; i++) {
    const x = origin + frame * ((i + 0.5) / POINTS_PER_FRAME - 4)
    xs[i] = x
    ys[i] = x > limit ? 1 : edge(x)
  }
  // Squared residues where the fitted edge is flat (beyond 6 σ), summed from the left against 0 and the right against 1.
  const step = frame / POINTS_PER_FRAME
  const left = new Float64Array(points + 1)
  const right = new Float64Array(points + 1)
  for (let i = 0; i < points; i++) left[i + 1] = left[i]! + ys[i]! ** 2
  for (let i = points - 1; i >= 0; i--) right[i] = right[i + 1]! + (1 - ys[i]!) ** 2
  const position = (x: number): number => Math.min(points, Math.max(0, Math.ceil((x - xs[0]!) / step)))
  const normal = new Float64Array(5)
  // Normal equations and residue at (m, s).
  const evaluate = (m: number, s: number): number => {
    const from = position(m - TABLE_REACH * s)
    const to = position(m + TABLE_REACH * s)
    const inverse = 1 / s
    let mm = 0
    let ms = 0
    let ss = 0
    let gm = 0
    let gs = 0
    let sum = left[from]! + right[to]!
    for (let i = from; i < to; i++) {
      // Φ and φ by linear interpolation in their table (error below 5e-7): a fit needs them a thousand times.
      const z = (xs[i]! - m) * inverse
      const x = (z + TABLE_REACH) * TABLE_DENSITY
      const k = x | 0
      const f = x - k
      const cdf = normalTable[2 * k]!
      const pdf = normalTable[2 * k + 1]!
      const r = ys[i]! - cdf - f * (normalTable[2 * k + 2]! - cdf)
      const dm = -(pdf + f * (normalTable[2 * k + 3]! - pdf)) * inverse
      const ds = dm * z
      sum += r * r
      mm += dm * dm
      ms += dm * ds
      ss += ds * ds
      gm += dm * r
      gs += ds * r
    }
    normal[0] = mm
    normal[1] = ms
    normal[2] = ss
    normal[3] = gm
    normal[4] = gs
    return sum
  }
  let m = mean
  let s = sigma
  let best = evaluate(m, s)
  for (let round = 0; round < 40; round++) {
    const [mm = 0, ms = 0, ss = 0, gm = 0, gs = 0] = normal
    const det = mm * ss - ms * ms
    if (!(det > 0)) return null
    let stepM = (gm * ss - gs * ms) / det
    let stepS = (gs * mm - gm * ms) / det
    if (Math.abs(stepM) + Math.abs(stepS) < 1e-5 * s) break
    let better = false
    for (let halving = 0; halving < 8 && !better; halving++) {
      const nextS = s + stepS
      if (nextS > 0.02 * s) {
        const next = evaluate(m + stepM, nextS)
        if (next < best) {
          m += stepM
          s = nextS
          best = next
          better = true
          break
        }
      }
      stepM /= 2
      stepS /= 2
    }
    if (!better) break
  }
  return s > 0 ? GAUSSIAN_10_90 * s : null
}
