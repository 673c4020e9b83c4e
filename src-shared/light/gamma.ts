/** Gamma of a luminance ladder: slope of ln(L − L_black) over ln(V), V = code / highest code. */
import { studentT95 } from '#shared/signal/distributions.ts'

export interface LadderPoint {
  readonly code: number
  /** cd/m², or anything proportional to it. */
  readonly luminance: number
}

export interface Gamma {
  /** Slope by least squares, every point weighted alike in ln L (a constant relative uncertainty). */
  readonly gamma: number
  /** Half width of the 95 % interval of the slope by the residuals; null with two points. A curve that is no power law widens it. */
  readonly u95: number | null
  readonly black: 'subtracted' | 'kept'
  /** Points used: V at least `LEAST_V`, light above black. */
  readonly points: readonly {
    readonly code: number
    /** ln of measured over fitted light. */
    readonly residual: number
    /** Slope from the point before; null at the first. */
    readonly stepGamma: number | null
    /** ln((L − L_k)/(L_w − L_k))/ln V; null at white. */
    readonly pointGamma: number | null
  }[]
}

/** Under this share of the highest code, black and noise rule and no power law holds (common practice, no source). */
const LEAST_V = 0.1

/**
 * @param black light at code 0 to be taken off first; null keeps the light as measured.
 * @returns null with fewer than two usable points. Duplicate codes must have been averaged.
 */
export function fitGamma(ladder: readonly LadderPoint[], black: number | null): Gamma | null {
  const top = ladder.reduce((most, { code }) => Math.max(most, code), 0)
  const off = black ?? 0
  const used = ladder
    .filter(({ code, luminance }) => code >= LEAST_V * top && luminance - off > 0)
    .map(({ code, luminance }) => ({ code, x: Math.log(code / top), y: Math.log(luminance - off) }))
    .sort((a, b) => a.x - b.x)
  const n = used.length
  const last = used.at(-1)
  if (n < 2 || last === undefined || last.code !== top) return null
  const [mx, my] = [used.reduce((sum, { x }) => sum + x, 0) / n, used.reduce((sum, { y }) => sum + y, 0) / n]
  const sxx = used.reduce((sum, { x }) => sum + (x - mx) ** 2, 0)
  if (!(sxx > 0)) return null
  const gamma = used.reduce((sum, { x, y }) => sum + (x - mx) * (y - my), 0) / sxx
  const residuals = used.map(({ x, y }) => y - my - gamma * (x - mx))
  const squares = residuals.reduce((sum, residual) => sum + residual ** 2, 0)
  return {
    gamma,
    u95: n < 3 ? null : studentT95(n - 2) * Math.sqrt(squares / (n - 2) / sxx),
    black: black === null ? 'kept' : 'subtracted',
    points: used.map(({ code, x, y }, i) => {
      const before = used[i - 1]
      return {
        code,
        residual: residuals[i] as number,
        stepGamma: before === undefined ? null : (y - before.y) / (x - before.x),
        pointGamma: code === top ? null : (y - last.y) / x,
      }
    }),
  }
}
