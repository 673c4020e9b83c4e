import { demodulate } from '../../signal/periodic-waveform.ts'
import type { Series } from '../../signal/series.ts'
import type { Plateaus } from '../plateaus.ts'
import { LIMITS, reachOf } from './budget.ts'

/** A jump of the backlight's phase, in periods, with the limit it exceeds and the samples it lies between. */
export interface PhaseJump {
  readonly turns: number
  readonly limit: number
  readonly at: number
  readonly first: number
  readonly last: number
}

/** Fewest windows the phase is read in, fewest periods and samples of one. */
const FEWEST = 6
const PERIODS = 2
const LEAST_LENGTH = 64

/**
 * Phase of the ripple through the record, in windows of two periods or more. With one constant frequency the phase against
 * it is a straight line; missing samples break the line. The break is searched that leaves two parallel lines with the
 * least residue, and counts when it exceeds a twelfth of a period and, by Student's t, what the residue about the lines
 * gives at one of all places with the given `chance`.
 * @returns null without ripple, with too few periods, or when the phase is one line
 */
export function findPhaseJump(series: Series, plateaus: Plateaus, noiseV: number, chance: number): PhaseJump | null {
  const { ripple } = plateaus
  if (!ripple || !(ripple.peakToPeakV > 0)) return null
  const { fundamental } = ripple
  const length = Math.round(Math.max(PERIODS, Math.ceil(LEAST_LENGTH * fundamental)) / fundamental)
  const windows = Math.floor(series.n / length)
  if (windows < FEWEST || length < 8) return null
  const phases = new Float64Array(windows)
  const amplitudes = new Float64Array(windows)
  let strongest = 0
  for (let w = 0; w < windows; w++) {
    const { re, im, amplitude } = demodulate(series, w * length, (w + 1) * length, fundamental, 1)
    phases[w] = Math.atan2(im, re) / (2 * Math.PI)
    amplitudes[w] = amplitude
    strongest = Math.max(strongest, amplitude)
  }
  // Where the light is too weak, or itself changes by more than its ripple, the phase says nothing.
  const least = Math.max(0.02 * strongest, 8 * noiseV * Math.sqrt(2 / length))
  const clear: number[] = []
  for (let w = 0; w < windows; w++) {
    if (amplitudes[w]! > least && slanted(series, w * length, length) <= amplitudes[w]!) clear.push(w)
  }
  // One that stands out alone owes that to noise, which then has turned its phase as well.
  const kept = clear.filter((w, i) => clear[i - 1] === w - 1 || clear[i + 1] === w + 1)
  if (kept.length < FEWEST) return null
  const turns = unwrapped(kept, phases)
  return breakOf(kept, turns, length, chance)
}

/** Change of the mean from the first period of a window to its second. */
function slanted({ prefix }: Series, first: number, length: number): number {
  const half = length >> 1
  return Math.abs(prefix[first + 2 * half]! - 2 * prefix[first + half]! + prefix[first]!) / half
}

/** Phases without jumps of whole turns: each is taken nearest to the line through the two before it. */
function unwrapped(kept: readonly number[], phases: Float64Array): Float64Array {
  const out = new Float64Array(kept.length)
  // The usual gain per window: the median of the small differences, which a single jump does not move.
  const gains = new Float64Array(kept.length - 1)
  for (let i = 1; i < kept.length; i++) {
    const d = phases[kept[i]!]! - phases[kept[i - 1]!]!
    gains[i - 1] = (d - Math.round(d)) / (kept[i]! - kept[i - 1]!)
  }
  const slope = Float64Array.from(gains).sort()[gains.length >> 1]!
  let previous = phases[kept[0]!]!
  out[0] = previous
  for (let i = 1; i < kept.length; i++) {
    const expected = previous + slope * (kept[i]! - kept[i - 1]!)
    const phase = phases[kept[i]!]!
    previous = phase + Math.round(expected - phase)
    out[i] = previous
  }
  return out
}

function breakOf(kept: readonly number[], turns: Float64Array, length: number, chance: number): PhaseJump | null {
  const n = kept.length
  let best = Infinity
  let bestAt = -1
  let jump = 0
  let weight = 0
  for (let at = 1; at <= n - 2; at++) {
    const fit = twoLines(kept, turns, at)
    if (fit.residue < best) {
      best = fit.residue
      bestAt = at
      jump = fit.jump
      weight = fit.weight
    }
  }
  if (bestAt < 0) return null
  // Offsets, slope and the place itself are taken from the phases.
  const dof = Math.max(1, n - 5)
  const limit = Math.max(LIMITS.phaseTurns, reachOf(chance / (n - 2), dof) * Math.sqrt((weight * best) / dof))
  if (Math.abs(jump) <= limit) return null
  const first = kept[bestAt - 1]! * length
  const last = (kept[bestAt + 1]! + 1) * length
  return { turns: jump, limit, at: (first + last) / 2, first, last: last - 1 }
}

const wrapped = (turns: number): number => turns - Math.round(turns)

/**
 * Two parallel lines through the phases on either side of window `at` (which may hold the break), their distance, and its
 * variance for phases of unit variance.
 */
function twoLines(
  kept: readonly number[],
  turns: Float64Array,
  at: number,
): { jump: number; residue: number; weight: number } {
  const n = kept.length
  const part = (from: number, to: number): { x: number; y: number; xx: number; xy: number } => {
    let x = 0
    let y = 0
    for (let i = from; i < to; i++) {
      x += kept[i]!
      y += turns[i]!
    }
    x /= to - from
    y /= to - from
    let xx = 0
    let xy = 0
    for (let i = from; i < to; i++) {
      xx += (kept[i]! - x) ** 2
      xy += (kept[i]! - x) * (turns[i]! - y)
    }
    return { x, y, xx, xy }
  }
  const a = part(0, at)
  const b = part(at + 1, n)
  const slope = (a.xy + b.xy) / (a.xx + b.xx)
  const jump = wrapped(b.y - a.y - slope * (b.x - a.x))
  let residue = 0
  for (let i = 0; i < n; i++) {
    if (i === at) continue
    const one = i < at ? a : b
    residue += (turns[i]! - one.y - slope * (kept[i]! - one.x)) ** 2
  }
  return { jump, residue, weight: 1 / at + 1 / (n - at - 1) + (b.x - a.x) ** 2 / (a.xx + b.xx) }
}
