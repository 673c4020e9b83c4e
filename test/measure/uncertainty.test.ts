/** Stated uncertainties against closed forms under what real benches do. Seeds 1 … RUNS; all data is invented. */
import { describe, expect, it } from 'vitest'
import type { MeasureId } from '#shared/domain/measures.ts'
import { measureCapture, uncertaintyTerms } from '#shared/measure/measure-capture.ts'
import { asTrace, firstOrder, gaussian, inputOf, uniform, type MadeTrace } from '../reference/waves.ts'

const TAU = 2e-3
const RATE = 50_000
const RUNS = 40
/** First order between 3 % bands, τ = 2 ms, 60 Hz. */
const TRUTH: Partial<Record<MeasureId, number>> = {
  transition_duration_s: Math.log(9) * TAU,
  arrival_s: Math.log(97 / 3) * TAU,
  settling_s: Math.log(97 / 3) * TAU,
  overshoot_pct: 0,
  integrated_error_s: 0.97 * TAU,
  first_frame_completion_pct: 100 * (1 - 0.97 * Math.exp(-1 / 60 / TAU)),
}

type Disturb = (seed: number, n: number) => (k: number, volts: number) => number

const white =
  (sigma: number): Disturb =>
  (seed) => {
    const next = gaussian(seed)
    return (_k, volts) => volts + sigma * next()
  }
const pole =
  (sigma: number, hz: number): Disturb =>
  (seed) => {
    const next = gaussian(seed)
    const phi = Math.exp((-2 * Math.PI * hz) / RATE)
    let x = next()
    return (_k, volts) => {
      x = phi * x + Math.sqrt(1 - phi * phi) * next()
      return volts + sigma * x
    }
  }
const sine =
  (hz: number, share: number, ofLight: boolean): Disturb =>
  (seed) => {
    const next = gaussian(seed)
    const phase = uniform(seed)() * 2 * Math.PI
    return (k, volts) => {
      const swing = share * Math.sin((2 * Math.PI * hz * k) / RATE + phase)
      return volts * (ofLight ? 1 + swing : 1) + (ofLight ? 0 : 4 * swing) + 0.002 * next()
    }
  }
const drift =
  (share: number): Disturb =>
  (seed, n) => {
    const next = gaussian(seed)
    return (k, volts) => volts + (4 * share * k) / n + 0.002 * next()
  }

function disturbed(seed: number, disturb: Disturb): MadeTrace {
  const made = asTrace(firstOrder(TAU), { rateHz: RATE, preS: 0.05, postS: 0.25, phase: uniform(100 + seed)() })
  const { samples } = made.trace
  const change = disturb(seed, samples.length)
  for (let k = 0; k < samples.length; k++) samples[k] = change(k, samples[k]!)
  return made
}

describe('2 u contains the closed form', () => {
  it.each([
    ['white noise of 10 mV on 4 V', white(0.01), 0.88],
    ['noise through 10 kHz', pole(0.01, 10_000), 0.8],
    ['noise through 3 kHz', pole(0.01, 3000), 0.85],
    ['noise through 1 kHz', pole(0.01, 1000), 0.85],
    ['hum of 0.1 % of the step', sine(50, 0.0005, false), 0.9],
    ['hum of 1 %', sine(50, 0.005, false), 0.9],
    ['ripple of 1 % at 240 Hz, left', sine(240, 0.005, true), 0.9],
    ['drift of 1 % of the step', drift(0.01), 0.9],
  ] as const)('%s', (name, disturb, least) => {
    const inside: Partial<Record<MeasureId, number>> = {}
    const seen: Partial<Record<MeasureId, number>> = {}
    for (let seed = 1; seed <= RUNS; seed++) {
      const result = measureCapture(inputOf(disturbed(seed, disturb), {}, { refreshHz: 60 }))
      for (const [key, truth] of Object.entries(TRUTH)) {
        const id = key as MeasureId
        const value = result.values[id]
        if (value === null) continue
        seen[id] = (seen[id] ?? 0) + 1
        if (Math.abs(value - truth) <= 2 * (result.uncertainties[id] ?? 0)) inside[id] = (inside[id] ?? 0) + 1
      }
    }
    console.log(
      `${name}: ${Object.keys(TRUTH)
        .map((id) => `${id} ${inside[id as MeasureId] ?? 0}/${seen[id as MeasureId] ?? 0}`)
        .join(', ')}`,
    )
    for (const id of Object.keys(TRUTH) as MeasureId[]) {
      expect(seen[id], id).toBe(RUNS)
      expect((inside[id] ?? 0) / RUNS, id).toBeGreaterThanOrEqual(least)
    }
  })
})

describe('what makes up an uncertainty', () => {
  it('names what is left in the trace, and its parts add up to what is stated', () => {
    const input = inputOf(disturbed(1, sine(240, 0.02, true)), { detectorS: 2e-4 }, { refreshHz: 60 })
    const { uncertainties, common } = measureCapture(input)
    const terms = uncertaintyTerms(input).transition_duration_s ?? []
    expect(terms.map(({ name }) => name)).toEqual(expect.arrayContaining(['Noise', 'Ripple left', 'Detector']))
    const total = Math.sqrt(terms.reduce((sum, { u }) => sum + u * u, 0))
    expect(total / (uncertainties.transition_duration_s ?? 0)).toBeCloseTo(1, 9)
    const shared = Math.sqrt(terms.reduce((sum, { u, averages }) => sum + (averages ? 0 : u * u), 0))
    expect(shared / (common?.transition_duration_s ?? 0)).toBeCloseTo(1, 9)
  })
})
