import { windowMean, type Series } from '../../signal/series.ts'

/** A sine fitted to a window: y = re·cos(2π f k) + im·sin(2π f k) with k counted from sample 0. */
export interface LineFit {
  readonly re: number
  readonly im: number
  readonly amplitude: number
}

/** Blocks a window is averaged into before the fit, and fewest periods of the sine in it. */
const BLOCKS = 160
const FEWEST_PERIODS = 1.5
/** Unknowns: offset, slope, curvature, cosine, sine. */
const UNKNOWNS = 5

const normal = new Float64Array(UNKNOWNS * (UNKNOWNS + 1))
const row = new Float64Array(UNKNOWNS + 1)

/**
 * Least-squares sine of a given frequency (cycles per sample) beside a parabola, which takes up drift and settling.
 * The window is averaged in up to 160 blocks; their own response to the sine is taken out.
 * @returns null when the window holds fewer than one and a half periods or too few samples for the frequency
 */
export function fitLine(series: Series, window: readonly [number, number], frequency: number): LineFit | null {
  const [first, end] = window
  const n = end - first
  if (n * frequency < FEWEST_PERIODS) return null
  const block = Math.max(1, Math.floor(n / BLOCKS))
  const count = Math.floor(n / block)
  if (count < 4 * UNKNOWNS || block * frequency > 0.2) return null
  normal.fill(0)
  const turn = 2 * Math.PI * frequency
  const centre = first + (count * block) / 2
  const scale = 2 / (count * block)
  const offset = (block - 1) / 2
  for (let i = 0; i < count; i++) {
    const from = first + i * block
    const k = from + offset
    const x = (k - centre) * scale
    row[0] = 1
    row[1] = x
    row[2] = x * x
    row[3] = Math.cos(turn * k)
    row[4] = Math.sin(turn * k)
    row[5] = windowMean(series, from, from + block)
    for (let r = 0; r < UNKNOWNS; r++) {
      for (let c = r; c <= UNKNOWNS; c++) normal[r * (UNKNOWNS + 1) + c]! += row[r]! * row[c]!
    }
  }
  const found = solve()
  if (found === null) return null
  const half = Math.PI * frequency * block
  const response = block > 1 ? Math.sin(half) / (block * Math.sin(half / block)) : 1
  const re = found.re / response
  const im = found.im / response
  return { re, im, amplitude: Math.hypot(re, im) }
}

/** Solves the normal equations by elimination (they are symmetric and positive); answers the sine. */
function solve(): { re: number; im: number } | null {
  const width = UNKNOWNS + 1
  const at = (r: number, c: number): number => (c >= r ? normal[r * width + c]! : normal[c * width + r]!)
  const m: number[][] = []
  for (let r = 0; r < UNKNOWNS; r++) {
    const line: number[] = []
    for (let c = 0; c < UNKNOWNS; c++) line.push(at(r, c))
    line.push(normal[r * width + UNKNOWNS]!)
    m.push(line)
  }
  for (let p = 0; p < UNKNOWNS; p++) {
    const pivot = m[p]![p]!
    if (!(pivot > 1e-9 * at(p, p))) return null
    for (let r = p + 1; r < UNKNOWNS; r++) {
      const factor = m[r]![p]! / pivot
      for (let c = p; c <= UNKNOWNS; c++) m[r]![c]! -= factor * m[p]![c]!
    }
  }
  const x = new Float64Array(UNKNOWNS)
  for (let r = UNKNOWNS - 1; r >= 0; r--) {
    let sum = m[r]![UNKNOWNS]!
    for (let c = r + 1; c < UNKNOWNS; c++) sum -= m[r]![c]! * x[c]!
    x[r] = sum / m[r]![r]!
  }
  return { re: x[3]!, im: x[4]! }
}
