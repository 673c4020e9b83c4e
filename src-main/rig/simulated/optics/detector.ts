/**
 * Light to volts, exactly. Between two changes (of drive or of the backlight gate) the light is a constant plus
 * exponentials; a one-pole detector turns such a sum into another one with its own exponential added, so samples
 * need no oversampling: error comes from rounding alone.
 */
import { segmentAt, type CellSegment } from '../panel/cell.ts'
import { gateAt, type Gate } from '../panel/backlight.ts'
import type { Display } from '../panel/display.ts'

/** c + Σ kᵢ·exp(−t ÷ τᵢ), t from the start of its piece. Arrays are scratch and reused. */
interface Sum {
  constant: number
  readonly k: number[]
  readonly tau: number[]
}

/** Time constant of a −3 dB frequency, s. */
export function poleOf(frequencyHz: number): number {
  return 1 / (2 * Math.PI * frequencyHz)
}

/** How many time constants of its poles the detector runs before the first sample, to forget where it started. */
const WARM_UP = 36

/**
 * Relative luminance seen through one-pole low-passes.
 * `poles` are time constants in s, in the order of the path; none gives the light itself.
 * Answers `count` values at `startS + i·stepS`.
 */
export function seenLight(
  display: Pick<Display, 'segments' | 'gates'>,
  poles: readonly number[],
  startS: number,
  stepS: number,
  count: number,
): Float64Array {
  const out = new Float64Array(count)
  if (count === 0) return out
  const { segments, gates } = display
  const slowest = poles.reduce((a, b) => Math.max(a, b), 0)
  const states: number[] = poles.map(() => Number.NaN)
  let at = startS - WARM_UP * slowest
  let index = 0
  let segmentIndex = segmentAt(segments, at)
  let gateIndex = gateIndexAt(gates, at)
  const sum: Sum = { constant: 0, k: [], tau: [] }
  const factor: number[] = []
  while (index < count) {
    const segment = segments[segmentIndex] as CellSegment
    const { gate } = gates[gateIndex] as { gate: Gate }
    const nextSegment = segments[segmentIndex + 1]?.startS ?? Infinity
    const nextGate = gates[gateIndex + 1]?.fromS ?? Infinity
    const { level, nextS } = gateAt(gate, at)
    const end = Math.min(nextSegment, nextGate, nextS)
    if (end > at) {
      lightPiece(sum, segment, level, at)
      for (let p = 0; p < poles.length; p++) throughPole(sum, poles[p] as number, states, p, end - at)
      index = emit(out, index, sum, factor, at, end, startS, stepS)
    }
    if (end >= nextSegment) segmentIndex += 1
    if (end >= nextGate) gateIndex += 1
    at = Math.max(at, end)
  }
  return out
}

function gateIndexAt(gates: readonly { readonly fromS: number }[], timeS: number): number {
  let i = gates.length - 1
  while (i > 0 && (gates[i] as { fromS: number }).fromS > timeS) i -= 1
  return i
}

function lightPiece(sum: Sum, segment: CellSegment, level: number, at: number): void {
  const t = Math.max(0, at - segment.startS)
  sum.constant = level * segment.target
  sum.k.length = 0
  sum.tau.length = 0
  if (level === 0) return
  // Before its start the first segment of a timeline is at rest, and its exponentials are zero.
  const k1 = level * segment.k1 * Math.exp(-t / segment.tau1)
  const k2 = level * segment.k2 * Math.exp(-t / segment.tau2)
  if (k1 !== 0) push(sum, k1, segment.tau1)
  if (k2 !== 0) push(sum, k2, segment.tau2)
}

function push(sum: Sum, k: number, tau: number): void {
  sum.k.push(k)
  sum.tau.push(tau)
}

/**
 * Replaces the sum by its answer through a one-pole low-pass whose output starts the piece at `states[p]` (NaN: at
 * rest), and leaves there where it ends after `lengthS`.
 */
function throughPole(sum: Sum, wantedPole: number, states: number[], p: number, lengthS: number): void {
  // Equal time constants have no sum of exponentials; a part in a million between them changes nothing visible.
  let pole = wantedPole
  for (const tau of sum.tau) if (Math.abs(pole / tau - 1) < 1e-6) pole = tau * (1 - 1e-6)
  let light = sum.constant
  let steady = sum.constant
  for (let i = 0; i < sum.k.length; i++) {
    const k = sum.k[i] as number
    light += k
    const through = k / (1 - pole / (sum.tau[i] as number))
    sum.k[i] = through
    steady += through
  }
  const state = states[p] as number
  const own = (Number.isNaN(state) ? light : state) - steady
  if (own !== 0) push(sum, own, pole)
  let last = sum.constant
  for (let i = 0; i < sum.k.length; i++) last += (sum.k[i] as number) * Math.exp(-lengthS / (sum.tau[i] as number))
  states[p] = last
}

function emit(
  out: Float64Array,
  from: number,
  sum: Sum,
  factor: number[],
  at: number,
  end: number,
  startS: number,
  stepS: number,
): number {
  let stop = out.length
  if (end < Infinity) {
    stop = Math.min(stop, Math.max(from, Math.ceil((end - startS) / stepS)))
    while (stop > from && startS + (stop - 1) * stepS >= end) stop -= 1
    while (stop < out.length && startS + stop * stepS < end) stop += 1
  }
  if (stop <= from) return from
  const { k, tau, constant } = sum
  const n = k.length
  const offset = startS + from * stepS - at
  const value: number[] = []
  for (let i = 0; i < n; i++) {
    value.push((k[i] as number) * Math.exp(-offset / (tau[i] as number)))
    factor[i] = Math.exp(-stepS / (tau[i] as number))
  }
  for (let s = from; s < stop; s++) {
    let v = constant
    for (let i = 0; i < n; i++) {
      v += value[i] as number
      value[i] = (value[i] as number) * (factor[i] as number)
    }
    out[s] = v
  }
  return stop
}
