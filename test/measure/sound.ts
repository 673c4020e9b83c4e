/**
 * Sound records in closed form under noise of three kinds: what a detector of doubts must leave alone. Nothing here
 * shares code with the program or its simulated rig. Times in s, levels in V; all data is invented.
 *
 * White: independent normal deviates. One pole: white noise through a one-pole detector, which sampled is AR(1) with
 * φ = e^(−2π fc ÷ fs) exactly. 1/f: a sum of AR(1) processes of equal variance whose corner frequencies are a factor of
 * four apart, from under one period a record to the Nyquist frequency (within 3 % of a slope of −1 between them), as
 * traps make it. A step is one of: first order, ramp, raised cosine, or an exponential with another a third as fast.
 */
import { firstOrder, gaussian, linearRamp, raisedCosine, srgb, type Trace, type Wave } from './waves.ts'

export const NOISE_KINDS = ['white', 'one pole 1–10 kHz', '1/f'] as const
export type NoiseKind = (typeof NOISE_KINDS)[number]

export interface SoundRecord {
  readonly trace: Trace
  readonly from: number
  readonly to: number
  readonly white: number
  readonly dark: number
  readonly refreshHz: number
}

/** Uniform deviates between 0 and 1, from normal ones of a fixed sequence. */
function uniformOf(next: () => number): () => number {
  return () => {
    const a = next()
    const b = next()
    // The ratio of two normal deviates is Cauchy distributed.
    return 0.5 + Math.atan2(a, Math.abs(b)) / Math.PI
  }
}

/** `n` samples of noise with standard deviation 1. `pole` is fc ÷ fs for noise through one pole. */
export function noiseOf(kind: NoiseKind, n: number, pole: number, next: () => number): Float64Array {
  const out = new Float64Array(n)
  const add = (phi: number, share: number): void => {
    const fresh = share * Math.sqrt(1 - phi * phi)
    let y = share * next()
    for (let k = 0; k < n; k++) {
      out[k]! += y
      y = phi * y + fresh * next()
    }
  }
  if (kind === 'white') add(0, 1)
  else if (kind === 'one pole 1–10 kHz') add(Math.exp(-2 * Math.PI * pole), 1)
  else {
    const corners: number[] = []
    for (let fc = 0.35; fc > 0.1 / n; fc /= 4) corners.push(fc)
    for (const fc of corners) add(Math.exp(-2 * Math.PI * fc), 1 / Math.sqrt(corners.length))
  }
  return out
}

/** A sound record of 15,000 samples (50 kS/s) over ±1 V, 16 bits: steps of 0.1 to 0.8 V under 0.2 to 2 mV of noise. */
export function soundRecord(kind: NoiseKind, seed: number): SoundRecord {
  const next = gaussian(seed)
  for (let k = 0; k < 8; k++) next()
  const uniform = uniformOf(next)
  const pick = <T>(list: readonly T[]): T => list[Math.min(list.length - 1, Math.floor(uniform() * list.length))]!
  const rate = 50_000
  const before = 2500
  const n = 15_000
  const levels = [51, 102, 153, 204, 255]
  const from = pick(levels)
  const to = pick(levels.filter((level) => level !== from))
  const tau = 1e-3 * 4 ** uniform()
  const shapes: readonly Wave[] = [
    firstOrder(tau),
    linearRamp(3 * tau),
    raisedCosine(4 * tau),
    (t) => 0.6 * firstOrder(tau)(t) + 0.4 * firstOrder(3 * tau)(t),
  ]
  const shape = pick(shapes)
  const white = 0.8
  const dark = 0.02
  const a = dark + white * srgb(from)
  const b = dark + white * srgb(to)
  const sigma = 2e-4 * 10 ** uniform()
  const late = uniform()
  const noise = noiseOf(kind, n, (1000 * 10 ** uniform()) / rate, next)
  const volts = noise.map((y, k) => a + (b - a) * shape((k - before - late) / rate) + sigma * y)
  const scaleV = 1 / 32_768
  const samples = Int16Array.from(volts, (y) => Math.max(-32_768, Math.min(32_767, Math.round(y / scaleV))))
  const trace = { format: 'int16' as const, samples, sampleRateHz: rate, scaleV, offsetV: 0, rangeV: 1 }
  return { trace: { trace, triggerIndex: before }, from, to, white, dark, refreshHz: 60 }
}
