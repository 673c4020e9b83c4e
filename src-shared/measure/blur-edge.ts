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
  readonly x10: number
  readonly x90: number
  /** 2.563 σ of the Gaussian edge fitted over −4 … +8 frames about the step, samples; null when the fit fails. */
  readonly gaussian: number | null
  readonly slopeLow: number
  readonly slopeHigh: number
}

/** Doubts of the levels between which the slope is taken over the doubt, shares of the step. */
const LEAST_DOUBT = 0.003
const MOST_DOUBT = 0.08

/**
 * Blur edge of a step whose 50 % crossing is at `mid`, by running sums.
 * @param spanV no two voltages of the series and the levels are further apart
 * @param doubt what the levels may be off by, share of the step: slopes are taken over as much
 * @param fitFrame frame the Gaussian edge is fitted over where that is not the one averaged over
 * @returns null when the record ends before the moving edge has passed 90 %.
 */
export function findBlurEdge(
  series: Series,
  levels: Levels,
  frameSamples: number,
  mid: number,
  spanV: number,
  fitFrame: number | null = null,
  doubt = 0,
): BlurEdge | null {
  const edge = (x: number): number => movingEdge(series, levels, frameSamples, x)
  const limit = series.n - 1
  const step = Math.max(1, frameSamples / 512)
  // What the edge can change by in one step: the ends of the frame differ by no more than the whole span.
  const most = (spanV / Math.abs(levels.stepV) / frameSamples) * step * (1 + 1e-9)
  /** Steps within which the edge cannot have come from y to the level, at least one. */
  const stepsTo = (distance: number): number => Math.max(1, Math.floor(distance / most))
  const forward = (start: number, level: number): number | null => {
    let y = edge(start)
    for (let x = start; x < limit;) {
      x += step * stepsTo(level - y)
      const at = Math.min(x, limit)
      y = edge(at)
      if (y < level) continue
      const previous = edge(x - step)
      return at - (at - (x - step)) * ((y - level) / (y - previous || 1))
    }
    return null
  }
  const backward = (start: number, level: number): number | null => {
    let y = edge(start)
    for (let x = start; ;) {
      x -= step * stepsTo(y - level)
      if (!(x > -2 * frameSamples)) return null
      y = edge(x)
      if (y <= level) return x + step * ((level - y) / (edge(x + step) - y || 1))
    }
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
  // Towards the state level an edge may flatten out within the doubt.
  const over = Math.min(MOST_DOUBT, doubt)
  const secant = (x: number, level: number): number => {
    if (over < LEAST_DOUBT) return slope(x)
    const a = backward(x, level - over)
    const b = forward(x, level + over)
    return a === null || b === null || b <= a ? slope(x) : Math.min(slope(x), (2 * over) / (b - a))
  }
  const frame = fitFrame ?? frameSamples
  return {
    width,
    mid: x50,
    x10,
    x90,
    gaussian: fitGaussianEdge(
      { series, levels, frameSamples, origin: Math.min(mid, x50), frame },
      x50,
      width / GAUSSIAN_10_90,
    ),
    slopeLow: secant(x10, 0.1),
    slopeHigh: secant(x90, 0.9),
  }
}

const POINTS_PER_FRAME = 32
const POINTS = 12 * POINTS_PER_FRAME
const areas = new Float64Array(POINTS + POINTS_PER_FRAME)
const edgeValues = new Float64Array(POINTS)
const squaresBefore = new Float64Array(POINTS + 1)
const squaresAfter = new Float64Array(POINTS + 1)

/** Normal equations of the Gaussian edge at (m, s): sums over products of derivatives and residues, squared residue. */
interface Normal {
  mm: number
  ms: number
  ss: number
  gm: number
  gs: number
  residue: number
}

/** A moving edge and where it is looked at: around `origin` in frames of `frame` samples. */
interface EdgeSpan {
  readonly series: Series
  readonly levels: Levels
  readonly frameSamples: number
  readonly origin: number
  readonly frame: number
}

/**
 * Fills `edgeValues` with the moving edge at the grid's points, `step` samples apart from `start` on; 1 beyond the
 * record's end. Where the grid counts the frames the edge is averaged over, each point begins where another ended.
 */
function readEdge({ series, levels, frameSamples, frame }: EdgeSpan, start: number, step: number): void {
  const limit = series.n - 1
  const inside = Math.min(POINTS, Math.max(0, Math.floor((limit - start) / step) + 1))
  edgeValues.fill(1, inside)
  if (frame !== frameSamples) {
    for (let i = 0; i < inside; i++) edgeValues[i] = movingEdge(series, levels, frameSamples, start + i * step)
    return
  }
  const { beforeV, afterV, stepV } = levels
  const first = start - frame
  for (let i = 0; i < inside + POINTS_PER_FRAME; i++) areas[i] = integralTo(series, first + i * step, beforeV, afterV)
  const perArea = 1 / (frame * stepV)
  const offset = beforeV / stepV
  for (let i = 0; i < inside; i++) edgeValues[i] = (areas[i + POINTS_PER_FRAME]! - areas[i]!) * perArea - offset
}

/**
 * Least-squares fit of Φ((x − µ)/σ) to the moving edge at the middles of 32 equal parts of each frame from 4
 * frames before to 8 frames after the step (1 is taken beyond the record's end). Gauss–Newton with halving.
 * @returns 2·Φ⁻¹(0.9)·σ, or null when it does not converge
 */
function fitGaussianEdge(span: EdgeSpan, mean: number, sigma: number): number | null {
  const { origin, frame } = span
  const step = frame / POINTS_PER_FRAME
  const start = origin + step * 0.5 - 4 * frame
  readEdge(span, start, step)
  // Squared residues where the fitted edge is flat (beyond 6 σ), summed from the left against 0 and the right against 1.
  let before = 0
  let after = 0
  for (let i = 0, j = POINTS - 1; j >= 0; i++, j--) {
    squaresBefore[i + 1] = before += edgeValues[i]! ** 2
    squaresAfter[j] = after += (1 - edgeValues[j]!) ** 2
  }
  // Positions from here on in steps of the grid.
  let m = (mean - start) / step
  let s = sigma / step
  let at = normalAt(m, s)
  for (let round = 0; round < 40; round++) {
    const { mm, ms, ss, gm, gs } = at
    const det = mm * ss - ms * ms
    if (!(det > 0)) return null
    let stepM = (gm * ss - gs * ms) / det
    let stepS = (gs * mm - gm * ms) / det
    if (Math.abs(stepM) + Math.abs(stepS) < 1e-5 * s) break
    let better = false
    for (let halving = 0; halving < 8 && !better; halving++) {
      const nextS = s + stepS
      if (nextS > 0.02 * s) {
        const next = normalAt(m + stepM, nextS)
        if (next.residue < at.residue) {
          m += stepM
          s = nextS
          at = next
          better = true
          break
        }
      }
      stepM /= 2
      stepS /= 2
    }
    if (!better) break
  }
  return s > 0 ? GAUSSIAN_10_90 * s * step : null
}

/** Normal equations of the edge centred on grid position m with σ = s grid steps, against `edgeValues`. */
function normalAt(m: number, s: number): Normal {
  const place = (x: number): number => Math.min(POINTS, Math.max(0, Math.ceil(x)))
  const from = place(m - TABLE_REACH * s)
  const to = place(m + TABLE_REACH * s)
  const inverse = 1 / s
  let mm = 0
  let ms = 0
  let ss = 0
  let gm = 0
  let gs = 0
  let residue = squaresBefore[from]! + squaresAfter[to]!
  for (let i = from; i < to; i++) {
    // Φ and φ by linear interpolation in their table (error below 5e-7): a fit needs them a thousand times.
    const z = (i - m) * inverse
    const x = (z + TABLE_REACH) * TABLE_DENSITY
    const k = x | 0
    const f = x - k
    const cdf = normalTable[2 * k]!
    const pdf = normalTable[2 * k + 1]!
    const r = edgeValues[i]! - cdf - f * (normalTable[2 * k + 2]! - cdf)
    const dm = -(pdf + f * (normalTable[2 * k + 3]! - pdf)) * inverse
    const ds = dm * z
    residue += r * r
    mm += dm * dm
    ms += dm * ds
    ss += ds * ds
    gm += dm * r
    gs += ds * r
  }
  return { mm, ms, ss, gm, gs, residue }
}
