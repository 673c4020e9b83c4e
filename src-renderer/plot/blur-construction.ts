/** The blur edge as a drawing: the moving edge over the trace, and where it passes 10 % and 90 %. */
import type { Landmarks } from '#shared/domain/result.ts'
import type { Envelope } from '#shared/domain/views.ts'
import { movingEdge } from '#shared/measure/blur-edge.ts'
import { seriesOf } from '#shared/signal/series.ts'

export interface BlurConstruction {
  /** Points of the moving edge: s from the first sample, and V. */
  readonly timeS: Float64Array
  readonly volts: Float32Array
  readonly startS: number
  readonly endS: number
  readonly startV: number
  readonly endV: number
}

const POINTS = 600

/**
 * Moving edge drawn from the middles of an envelope of the whole record: exact where its columns are samples, else as
 * fine as its columns. The number that counts is the result's. null without levels, a 50 % crossing or a refresh rate,
 * and when the moving edge does not pass 90 % within the record.
 */
export function blurConstruction(envelope: Envelope, marks: Landmarks, refreshHz: number): BlurConstruction | null {
  const { beforeV, afterV, crossMidS } = marks
  if (beforeV === null || afterV === null || crossMidS === null || !(refreshHz > 0)) return null
  const n = envelope.min.length
  if (n < 16) return null
  const middles = new Float64Array(n)
  for (let i = 0; i < n; i += 1) middles[i] = ((envelope.min[i] as number) + (envelope.max[i] as number)) / 2
  const series = seriesOf(middles)
  const levels = { beforeV, afterV, stepV: afterV - beforeV }
  const frameS = 1 / refreshHz
  const from = Math.max(envelope.startS, crossMidS - frameS)
  const to = Math.min(envelope.startS + (n - 1) * envelope.stepS, crossMidS + 3 * frameS)
  if (!(to > from)) return null
  const timeS = new Float64Array(POINTS)
  const shares = new Float64Array(POINTS)
  for (let i = 0; i < POINTS; i += 1) {
    const t = from + ((to - from) * i) / (POINTS - 1)
    timeS[i] = t
    shares[i] = movingEdge(series, levels, frameS / envelope.stepS, (t - envelope.startS) / envelope.stepS)
  }
  const middle = shares.findIndex((share) => share >= 0.5)
  if (middle < 1) return null
  const start = crossing(timeS, shares, middle, 0.1, -1)
  const end = crossing(timeS, shares, middle, 0.9, 1)
  if (start === null || end === null) return null
  const volts = (share: number) => beforeV + share * levels.stepV
  return {
    timeS,
    volts: Float32Array.from(shares, volts),
    startS: start,
    endS: end,
    startV: volts(0.1),
    endV: volts(0.9),
  }
}

/** First passage of a level, outward from an index; linear between points. */
function crossing(
  timeS: Float64Array,
  shares: Float64Array,
  from: number,
  level: number,
  direction: 1 | -1,
): number | null {
  for (let i = from; i >= 0 && i < shares.length; i += direction) {
    const here = shares[i] as number
    if (direction === 1 ? here < level : here > level) continue
    const inner = i - direction
    if (inner < 0 || inner >= shares.length) return timeS[i] as number
    const before = shares[inner] as number
    const part = here === before ? 0 : (level - before) / (here - before)
    return (timeS[inner] as number) + part * ((timeS[i] as number) - (timeS[inner] as number))
  }
  return null
}
