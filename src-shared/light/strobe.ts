/** The pulse of a strobed backlight from a record of a steady picture: width, share of time, place in the frame. */
import { meanCycles, MIN_SAMPLES_PER_CYCLE } from '#shared/measure/periodic-cycle.ts'
import { meanSd } from '#shared/signal/statistics.ts'

interface Estimate {
  readonly value: number
  /** Standard uncertainty: of the mean over parts of the record, and the sampling. */
  readonly u: number
}

export interface StrobePulse {
  /** Equivalent width: area of one pulse over its height, ms. */
  readonly widthMs: Estimate
  /** Width over the period, %. */
  readonly dutyPct: Estimate
  /** First harmonic of the light after the frame's start, ms, from 0 to one period; null where no frame's start is known. */
  readonly phaseMs: Estimate | null
  readonly pulsesPerFrame: number
}

/** Parts of the record that are read apart, so that their scatter says how well the whole is known. */
const PARTS = 8
/**
 * Height of a pulse: mean of its highest tenth above half of the highest sample. A single sample would add the noise; of a
 * pulse that only decays this makes the width 3.5 % too large.
 */
const TOP_SHARE = 0.1

/**
 * W = ∫L dt ÷ height, duty W ÷ T, t_φ = (T/2π)·arg ΣL·e^{2πit/T}, circular mean over the parts.
 * @param light above the dark level, V, of a steady picture. @param pulseHz its repetition. @param frameStartS start of any
 *   frame, from the first sample. @returns null with fewer than two cycles a part, under 20 samples a cycle, or without light.
 */
export function strobePulse(
  light: Float64Array,
  sampleRateHz: number,
  pulseHz: number,
  refreshHz: number,
  frameStartS: number | null,
  uFrameS = 0,
): StrobePulse | null {
  const period = sampleRateHz / pulseHz
  const cycles = Math.floor(light.length / period)
  if (cycles < 4 || period < MIN_SAMPLES_PER_CYCLE) return null
  const parts = Math.min(PARTS, Math.floor(cycles / 2))
  const perPart = Math.floor(cycles / parts)
  const read = Array.from({ length: parts }, (_, i) => {
    const from = Math.round(i * perPart * period)
    const part = light.subarray(from, Math.round(from + perPart * period))
    return { width: widthOf(part, sampleRateHz, pulseHz), angle: angleOf(part, from, period) }
  })
  const widths = read.flatMap(({ width }) => (width === null ? [] : [width]))
  const { mean, s } = meanSd(widths)
  if (mean === null || widths.length < parts) return null
  const stepMs = 1000 / sampleRateHz
  const uWidth = Math.hypot((s ?? 0) / Math.sqrt(parts), stepMs / Math.sqrt(12))
  const periodMs = 1000 / pulseHz
  return {
    widthMs: { value: mean, u: uWidth },
    dutyPct: { value: (100 * mean) / periodMs, u: (100 * uWidth) / periodMs },
    phaseMs: frameStartS === null ? null : phaseOf(read, periodMs, 1000 * frameStartS, stepMs, 1000 * uFrameS),
    pulsesPerFrame: Math.max(1, Math.round(pulseHz / refreshHz)),
  }
}

/** Equivalent width of the mean cycle, ms. */
function widthOf(part: Float64Array, sampleRateHz: number, pulseHz: number): number | null {
  const folded = meanCycles(part, sampleRateHz, pulseHz)
  if (folded === null) return null
  const cycle = folded.even.map((value, i) => 0.5 * (value + (folded.odd[i] as number))).sort()
  const highest = cycle.at(-1) as number
  const high = cycle.filter((value) => value > highest / 2)
  const top = high.slice(-Math.max(1, Math.round(TOP_SHARE * high.length)))
  const height = meanSd(top).mean ?? 0
  const mean = meanSd(cycle).mean ?? 0
  return height > 0 && mean > 0 ? ((mean / height) * 1000) / pulseHz : null
}

/** Argument of the first harmonic, rad, by the record's own clock. */
function angleOf(part: Float64Array, from: number, period: number): { readonly re: number; readonly im: number } {
  let [re, im] = [0, 0]
  for (let i = 0; i < part.length; i++) {
    const turn = (2 * Math.PI * (from + i)) / period
    re += (part[i] as number) * Math.cos(turn)
    im += (part[i] as number) * Math.sin(turn)
  }
  const size = Math.hypot(re, im)
  return size > 0 ? { re: re / size, im: im / size } : { re: 0, im: 0 }
}

function phaseOf(
  read: readonly { readonly angle: { readonly re: number; readonly im: number } }[],
  periodMs: number,
  frameMs: number,
  stepMs: number,
  uFrameMs: number,
): Estimate | null {
  const n = read.length
  const re = read.reduce((sum, { angle }) => sum + angle.re, 0) / n
  const im = read.reduce((sum, { angle }) => sum + angle.im, 0) / n
  const length = Math.min(1, Math.hypot(re, im))
  if (!(length > 0)) return null
  const late = (Math.atan2(im, re) / (2 * Math.PI)) * periodMs - frameMs
  const sdMs = (Math.sqrt(-2 * Math.log(length)) * periodMs) / (2 * Math.PI)
  return {
    value: late - periodMs * Math.floor(late / periodMs),
    u: Math.hypot(sdMs / Math.sqrt(n), stepMs / Math.sqrt(12), uFrameMs),
  }
}
