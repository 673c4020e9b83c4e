/** Noise must not make, move or hide a result. Seeds are fixed; limits follow from the number of runs. */
import { describe, expect, it } from 'vitest'
import { reachAfter, reachBefore } from '#shared/signal/crossings.ts'
import { seriesOf } from '#shared/signal/series.ts'
import type { MeasureId } from '#shared/domain/measures.ts'
import {
  firstOrder,
  flagIds,
  gaussian,
  measure,
  overdriven,
  raisedCosine,
  record,
  secondOrder,
  valueOf,
} from './waves.ts'

const ms = 1e-3

const rippled = (t: number): number =>
  1 +
  firstOrder(ms)(t) * (1 + 0.1 * Math.sin(2 * Math.PI * 240 * t)) +
  0.3 * t +
  0.02 * Math.sin(2 * Math.PI * 9_731 * t)

const pulsedLight = (t: number): number => (1 + firstOrder(2 * ms)(t)) * ((((t * 487.3) % 1) + 1) % 1 < 0.6 ? 1 : 0.2)

interface Moments {
  readonly n: number
  readonly mean: number
  readonly sd: number
}
function moments(values: readonly number[]): Moments {
  const n = values.length
  const mean = values.reduce((a, b) => a + b, 0) / n
  return { n, mean, sd: Math.sqrt(values.reduce((a, b) => a + (b - mean) ** 2, 0) / (n - 1)) }
}

describe('plain crossings in noise, A/σ = 100 (Monte Carlo reference of 20,000 runs, first-order, outward from 50 %)', () => {
  it.each([
    [5, 3.68, 0.18],
    [10, 3.33, -0.62],
  ])('%i samples per τ: sd of t10–90 %f %%, mean bias %f %%', (perTau, sd, bias) => {
    const next = gaussian(perTau)
    const exact = Math.log(9) * perTau
    const durations: number[] = []
    const runs = 8000
    for (let run = 0; run < runs; run++) {
      const phase = (run % 97) / 97
      const values = Float64Array.from({ length: 30 * perTau }, (_, k) => {
        const t = (k - 5 * perTau - phase) / perTau
        return firstOrder(1)(t) + 0.01 * next()
      })
      const series = seriesOf(values)
      const mid = reachAfter(series, 0, 0, 0.5, 1) ?? 0
      const low = reachBefore(series, 0, mid, 0.1, 1) ?? 0
      const high = reachAfter(series, 0, mid, 0.9, 1) ?? 0
      durations.push((100 * (high - low)) / exact)
    }
    const found = moments(durations)
    // 3 % of the sd as in the table, and three standard errors of these runs on top.
    expect(Math.abs(found.sd - sd)).toBeLessThan(0.03 * sd + (3 * sd) / Math.sqrt(2 * runs))
    expect(Math.abs(found.mean - 100 - bias)).toBeLessThan(0.1 + (3 * sd) / Math.sqrt(runs))
  })
})

describe('measures in noise', () => {
  const runs = 60
  const many = (wave: (t: number) => number, noise: number, id: MeasureId, rate = 100_000) =>
    Array.from({ length: runs }, (_, seed) => {
      const result = measure(record(wave, { rate, noise, seed: seed + 1 }), {}, { refreshHz: 60 })
      return { value: result.values[id], u: result.uncertainties[id] ?? 0 }
    })

  it('noise is found whatever ripple and drift ride on the plateaus', () => {
    for (const noise of [0.003, 0.01, 0.05]) {
      const found = valueOf(measure(record(rippled, { rate: 50_000, pre: 0.1, post: 0.3, noise })), 'noise_v')
      expect(Math.abs(found / noise - 1)).toBeLessThan(0.08)
    }
  })

  it('noise is found under a pulsed backlight', () => {
    const found = valueOf(measure(record(pulsedLight, { rate: 50_000, pre: 0.1, post: 0.3, noise: 0.01 })), 'noise_v')
    expect(Math.abs(found / 0.01 - 1)).toBeLessThan(0.08)
  })

  it('rounding of the digitizer is the least noise of a clean record', () => {
    const result = measure(record((t) => 1 + firstOrder(ms)(t), { int16: true }))
    expect(valueOf(result, 'noise_v')).toBeCloseTo(5 / 32768 / Math.sqrt(12), 6)
  })

  it('a step without overshoot reports none, within its uncertainty', () => {
    for (const wave of [firstOrder(ms), raisedCosine(3 * ms), (t: number): number => 1 - firstOrder(3 * ms)(t)]) {
      for (const noise of [0.002, 0.01, 0.03]) {
        const found = many(wave, noise, 'overshoot_pct')
        const wrong = found.filter(({ value, u }) => (value ?? 0) > 2 * u)
        expect(wrong.length).toBeLessThan(0.1 * runs)
        expect(found.filter(({ value }) => value === 0).length).toBeGreaterThan(0.8 * runs)
        const short = many(wave, noise, 'undershoot_pct')
        expect(short.filter(({ value }) => value === 0).length).toBeGreaterThan(0.9 * runs)
      }
    }
  })

  it('overshoot is measured without the bias of the largest sample', () => {
    const wave = secondOrder(0.5, 1000)
    for (const noise of [0.005, 0.02]) {
      const found = many(wave, noise, 'overshoot_pct')
      const { mean, sd } = moments(found.map(({ value }) => value ?? 0))
      const u = moments(found.map((entry) => entry.u)).mean
      expect(Math.abs(mean - 16.303)).toBeLessThan(0.6 * u)
      expect(sd / u).toBeGreaterThan(0.5)
      expect(sd / u).toBeLessThan(1.6)
    }
  })

  it('arrival and settling do not follow single samples outside the band', () => {
    // One sample in three lies outside ±3 % at this noise; a first-order step arrives and settles at ln(97/3) τ.
    const exact = Math.log(97 / 3) * ms
    for (const id of ['arrival_s', 'settling_s'] as const) {
      const found = many(firstOrder(ms), 0.03, id).flatMap(({ value, u }) => (value === null ? [] : [{ value, u }]))
      expect(found.length).toBeGreaterThan(0.7 * runs)
      expect(Math.abs(moments(found.map(({ value }) => value)).mean / exact - 1)).toBeLessThan(0.05)
      const covered = found.filter(({ value, u }) => Math.abs(value - exact) < 2 * u).length
      expect(covered / found.length).toBeGreaterThan(0.8)
    }
  })

  it('settling follows a slow tail to its entry into the band', () => {
    const wave = overdriven(0.2, ms, 4 * ms)
    const exact = 7.501041 * ms
    const found = Array.from({ length: runs }, (_, seed) => {
      const result = measure(record(wave, { rate: 100_000, post: 0.16, noise: 0.01, seed: seed + 1 }))
      return (result.landmarks.settledAtS ?? Number.NaN) - 0.02
    })
    expect(Math.abs(moments(found).mean / exact - 1)).toBeLessThan(0.03)
  })

  it('settling is undefined, with the reason, when noise fills the band', () => {
    const result = measure(record(firstOrder(ms), { noise: 0.2 }), {}, { refreshHz: 60 })
    expect(result.values.settling_s).toBeNull()
    expect(result.reasons.settling_s).toMatch(/Noise reaches/)
    expect(result.values.in_window).toBeNull()
    expect(flagIds(result)).toContain('small-step')
  })

  it('the integrated error does not grow with noise on the plateau', () => {
    const found = many(firstOrder(ms), 0.02, 'integrated_error_s')
    const { mean } = moments(found.map(({ value }) => value ?? 0))
    // Taking the magnitude sample by sample would add √(2/π) · 0.02 · 78 ms = 1.2 ms.
    expect(Math.abs(mean - 0.97 * ms)).toBeLessThan(0.03 * ms)
  })

  it.each([
    'transition_duration_s',
    'arrival_s',
    'first_frame_completion_pct',
    'blur_edge_s',
    'gaussian_edge_s',
    'integrated_error_s',
  ] as const)('%s scatters as its uncertainty says', (id) => {
    const clean = valueOf(measure(record(overdriven(0.05, ms, 6 * ms), {}), {}, { refreshHz: 60 }), id)
    const found = many(overdriven(0.05, ms, 6 * ms), 0.005, id)
    const spread = Math.sqrt(moments(found.map(({ value }) => ((value ?? 0) - clean) ** 2)).mean)
    const u = moments(found.map((entry) => entry.u)).mean
    expect(spread / u).toBeLessThan(1.5)
    expect(spread / u).toBeGreaterThan(0.3)
  })
})
