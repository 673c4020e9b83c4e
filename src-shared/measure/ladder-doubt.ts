import type { Ladder } from '../domain/capture.ts'
import { codeOfVolts, ladderCurve, type LadderCurve } from './ladder-curve.ts'

/**
 * Largest error between two levels as a share of what the curve misses of either when it is left out; computed for
 * sRGB, powers of 2.2 and 2.4, BT.1886 with black and an S-shaped display, each with four ladders of 5 to 9 levels:
 * 0.52 at most, and 2.4 over the lowest step, where a linear foot can hide from any ladder.
 */
const INSIDE = 0.52
const LOWEST = 2.4

interface Doubts {
  readonly levels: readonly number[]
  /** By how many codes the curve through the other levels misses each; at the ends by extrapolation, null if it cannot. */
  readonly missed: readonly (number | null)[]
}

const cache = new WeakMap<Ladder, Doubts>()

function doubtsOf(ladder: Ladder): Doubts {
  let doubts = cache.get(ladder)
  if (doubts === undefined) {
    const levels = [...new Set(ladder.steps.map(({ level }) => level))].sort((a, b) => a - b)
    const missed = levels.map((level): number | null => {
      const without = ladderCurve({ ...ladder, steps: ladder.steps.filter((step) => step.level !== level) })
      const own = ladder.steps.filter((step) => step.level === level)
      // Without level 0 the codes would count from elsewhere.
      if ('problem' in without || level === 0) return null
      const volts = own.reduce((sum, { meanV }) => sum + meanV, 0) / own.length
      return Math.abs(codeOfVolts(without.curve, volts) - level)
    })
    doubts = { levels, missed }
    cache.set(ladder, doubts)
  }
  return doubts
}

/**
 * Standard uncertainty, codes, of the code that a ladder's curve gives for these volts, from interpolating between its
 * levels: nothing at a level, most half way, and growing beyond the ends. It leaves out the ladder's own noise.
 */
export function interpolationU(ladder: Ladder, curve: LadderCurve, volts: number): number {
  const { levels, missed } = doubtsOf(ladder)
  const code = Math.abs(codeOfVolts(curve, volts))
  const last = levels.length - 1
  const [first, top, below] = [levels[0], levels[last], levels[last - 1]]
  if (first === undefined || top === undefined || below === undefined) return 0
  if (code > top) return ((missed[last] ?? 0) * (code - top)) / (top - below) / Math.sqrt(3)
  const k = Math.max(0, levels.findIndex((level) => level > code) - 1)
  const [low, high] = code >= top ? [below, top] : [levels[k] as number, levels[k + 1] as number]
  const inner = (i: number): number => (i > 0 && i < last ? (missed[i] ?? 0) : 0)
  const most = Math.max(inner(k), inner(k + 1)) * (k === 0 ? LOWEST : INSIDE)
  const t = Math.min(1, Math.max(0, (code - low) / (high - low)))
  return (most * 4 * t * (1 - t)) / Math.sqrt(3)
}
