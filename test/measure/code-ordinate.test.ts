import { describe, expect, it } from 'vitest'
import { codeOfVolts, ladderCurve, voltsOfCode, type LadderCurve } from '#shared/measure/ladder-curve.ts'
import type { Ladder } from '#shared/domain/capture.ts'
import { meanSd } from '#shared/signal/statistics.ts'
import { ALL_LEVELS, firstOrder, gaussian, ladderOf, measure, overdriven, record, srgb, valueOf } from './waves.ts'

const ms = 1e-3
const curveOf = (ladder: Ladder): LadderCurve => {
  const result = ladderCurve(ladder)
  if ('problem' in result) throw new Error(result.problem)
  return result.curve
}
/** First-order luminance step between two levels of an sRGB display, 4 V at white. */
const between = (from: number, to: number) =>
  record((t) => 4 * (srgb(from) + (srgb(to) - srgb(from)) * firstOrder(ms)(t)), { rate: 200_000 })
const full = ladderOf(ALL_LEVELS)
/** Grey level of sRGB light 0–1. */
const code = (light: number): number => 255 * (light <= 0.0031308 ? 12.92 * light : 1.055 * light ** (1 / 2.4) - 0.055)
const past = (from: number, to: number, share: number): number => srgb(to) + share * (srgb(to) - srgb(from))
const power = (code: number): number => (code / 255) ** 2.2

describe('code ordinate of a first-order luminance step (computed, in τ)', () => {
  it.each([
    [0, 255, 1.5383],
    [255, 0, 4.36389],
    [0, 51, 1.678],
    [51, 0, 2.8667],
    [51, 102, 1.9254],
    [102, 51, 2.5728],
    [128, 192, 2.0108],
    [192, 128, 2.4271],
  ])('%i to %i: 10–90 of the code step %f', (from, to, expected) => {
    const result = measure(between(from, to), { ordinate: 'code' }, { from, to, ladder: full })
    expect(Math.abs(valueOf(result, 'transition_duration_s') / (expected * ms) - 1)).toBeLessThan(1e-3)
  })

  it.each([
    [0, 255, 3.1214, 2.4399],
    [255, 0, 6.4456, 5.7065],
    [0, 51, 1.6977, 1.0119],
    [51, 0, 2.8905, 1.9886],
    [51, 102, 1.9461, 1.2046],
    [102, 51, 2.5966, 1.6958],
    [128, 192, 2.2714, 1.5262],
    [192, 128, 2.7106, 1.8839],
  ])('%i to %i: bands of ±5 codes %f, of ±10 codes %f', (from, to, five, ten) => {
    for (const [codes, expected] of [
      [5, five],
      [10, ten],
    ] as const) {
      const recipe = { duration: { kind: 'codes' as const, codes } }
      const result = measure(between(from, to), recipe, { from, to, ladder: full })
      expect(Math.abs(valueOf(result, 'transition_duration_s') / (expected * ms) - 1)).toBeLessThan(1.2e-3)
    }
  })

  it('is undefined, not zero, where the step is no larger than its bands', () => {
    const recipe = {
      duration: { kind: 'codes' as const, codes: 10 },
      startBand: { kind: 'codes' as const, codes: 10 },
      endBand: { kind: 'codes' as const, codes: 10 },
    }
    const result = measure(between(100, 118), recipe, { from: 100, to: 118, ladder: full, refreshHz: 60 })
    for (const id of ['transition_duration_s', 'arrival_s', 'settling_s', 'in_window'] as const) {
      expect(result.values[id]).toBeNull()
      expect(result.reasons[id]).toMatch(/not larger than/)
    }
    expect(valueOf(result, 'overshoot_pct')).toBe(0)
  })

  it('is undefined without a ladder, with the reason, while luminance measures stay', () => {
    const result = measure(between(0, 255), { ordinate: 'code' }, { from: 0, to: 255 })
    expect(result.values.transition_duration_s).toBeNull()
    expect(result.reasons.transition_duration_s).toMatch(/ladder/)
    expect(result.reasons.overshoot_code).toMatch(/ladder/)
    expect(valueOf(result, 'step_v')).toBeCloseTo(4, 4)
    expect(valueOf(result, 'overshoot_pct')).toBe(0)
  })

  it('near black knows its bands no better than black itself: an offset there stays within 2.5 u', () => {
    const levels = [0, 51, 102, 153, 204, 255]
    const steps = levels.map((level) => ({ level, meanV: 3 * power(level), sdV: 0, peakToPeakV: 0 }))
    const ladder = { steps, darkV: null, takenAt: '2030-01-01T00:00:00.000Z' }
    const recipe = { ordinate: 'code' as const, duration: { kind: 'codes' as const, codes: 10 } }
    const dark = (offsetV: number) => {
      const wave = (t: number): number => offsetV + 3 * power(51) * (1 - firstOrder(ms)(t))
      const result = measure(record(wave), recipe, { from: 51, to: 0, ladder })
      return { value: valueOf(result, 'transition_duration_s'), u: result.uncertainties.transition_duration_s ?? 0 }
    }
    const sound = dark(0)
    for (const offsetV of [-1e-4, 5e-5, 1e-4]) {
      const off = dark(offsetV)
      const apart = Math.abs(off.value - sound.value)
      expect(apart).toBeGreaterThan(0.05 * sound.value)
      expect(apart).toBeLessThan(2.5 * off.u)
      // Known, for all that: not so uncertain that anything would pass.
      expect(off.u).toBeLessThan(apart)
    }
  })

  it('integrates the error in codes', () => {
    // ∫ (255 − code) dt from the onset, by quadrature in scipy for 0→255: 0.6145… τ; here against a fine sum.
    const result = measure(between(0, 255), { ordinate: 'code' }, { from: 0, to: 255, ladder: full })
    // Onset at 3 % of the code step.
    const start = -Math.log(1 - srgb(0.03 * 255))
    let sum = 0
    for (let x = start; x < 20; x += 1e-4) sum += (1 - code(1 - Math.exp(-(x + 5e-5))) / 255) * 1e-4
    expect(Math.abs(valueOf(result, 'integrated_error_s') / (sum * ms) - 1)).toBeLessThan(2e-3)
  })
})

describe('overshoot in codes', () => {
  it('10 % past 102→51 lies at code 41.97483 (computed)', () => {
    expect(Math.abs(codeOfVolts(curveOf(full), 4 * past(102, 51, 0.1)) - 41.97483)).toBeLessThan(1e-3)
  })

  it.each([
    [51, 102, 3.55],
    [102, 51, 9.03],
    [0, 51, 2.63],
    [204, 255, 4.39],
  ])('10 %% of %i→%i is %f codes, above 255 too (computed)', (from, to, codes) => {
    const curve = curveOf(full)
    const size = Math.abs(codeOfVolts(curve, 4 * past(from, to, 0.1)) - to)
    expect(Math.abs(size - codes)).toBeLessThan(0.02)
  })

  it('is reported unclamped for an overdriven step to white', () => {
    const trace = record((t) => 4 * (srgb(204) + (srgb(255) - srgb(204)) * overdriven(0.4, ms, 4 * ms)(t)), {
      rate: 100_000,
      post: 0.16,
    })
    const result = measure(trace, {}, { from: 204, to: 255, ladder: ladderOf([0, 51, 102, 153, 204, 255]) })
    expect(result.landmarks.overshootV ?? 0).toBeGreaterThan(4)
    expect(valueOf(result, 'overshoot_code')).toBeGreaterThan(4)
    expect(valueOf(result, 'overshoot_pct')).toBeGreaterThan(10)
  })
})

describe('ladder curve', () => {
  it('is its own inverse over and beyond the ladder', () => {
    for (const levels of [[0, 255], [0, 51, 102, 153, 204, 255], [32, 64, 200], ALL_LEVELS]) {
      const curve = curveOf(ladderOf(levels, { dark: 0.02 }))
      for (let code = -40; code <= 320; code += 1.7) {
        expect(Math.abs(codeOfVolts(curve, voltsOfCode(curve, code)) - code)).toBeLessThan(1e-6)
      }
    }
  })

  it('rises throughout', () => {
    for (const levels of [
      [0, 51, 102, 153, 204, 255],
      [16, 32, 240],
    ]) {
      const curve = curveOf(ladderOf(levels))
      let last = -Infinity
      for (let code = -60; code <= 330; code += 0.5) {
        const volts = voltsOfCode(curve, code)
        expect(volts).toBeGreaterThan(last)
        last = volts
      }
    }
  })

  it('hits a power law between six levels and far beyond both ends', () => {
    const curve = curveOf(ladderOf([32, 64, 96, 160, 224], { light: power }))
    for (const code of [5, 20, 48, 120, 200, 255, 300]) {
      expect(Math.abs(codeOfVolts(curve, 4 * power(code)) - code)).toBeLessThan(1e-6)
    }
  })

  it('reads an sRGB display from nine levels: to 0.05 code above 64, and how far off its linear foot lies', () => {
    const curve = curveOf(ladderOf([0, 32, 64, 96, 128, 160, 192, 224, 255]))
    const worst = (first: number, last: number): number => {
      let most = 0
      for (let code = first; code <= last; code++)
        most = Math.max(most, Math.abs(codeOfVolts(curve, 4 * srgb(code)) - code))
      return most
    }
    expect(worst(64, 255)).toBeLessThan(0.05)
    // A power law knows nothing of sRGB's linear foot (codes 0–10); only more dark levels in the ladder tell.
    expect(worst(32, 64)).toBeLessThan(0.65)
    expect(worst(0, 32)).toBeLessThan(5.2)
  })

  it('takes a detector whose volts fall with light', () => {
    const curve = curveOf(ladderOf([0, 51, 102, 153, 204, 255], { white: -3, dark: 4 }))
    expect(codeOfVolts(curve, 4 - 3 * srgb(153))).toBeCloseTo(153, 6)
  })

  it('pools a fallback within 0.2 % of its span and refuses a larger one', () => {
    const noisy = ladderOf([0, 8, 16, 128, 255])
    const swapped = (v: number): Ladder => ({
      ...noisy,
      steps: noisy.steps.map((step) => (step.level === 16 ? { ...step, meanV: v } : step)),
    })
    expect('curve' in ladderCurve(swapped(4 * srgb(8) - 0.004))).toBe(true)
    const refused = ladderCurve(swapped(-0.1))
    expect('problem' in refused && refused.problem).toMatch(/not monotone/)
  })

  it('refuses ladders without two levels or without light', () => {
    expect('problem' in ladderCurve(ladderOf([255]))).toBe(true)
    expect('problem' in ladderCurve(ladderOf([0, 255], { white: 0 }))).toBe(true)
  })
})

describe('uncertainty of a band in codes at black', () => {
  it('is what repeats spread by: a flat tail, noise, and an offset that is a little off from capture to capture', () => {
    const next = gaussian(3)
    const dark = 0.015
    const ladder = ladderOf([0, 51, 102, 153, 204, 255], { white: 2, light: (level) => power(level) + dark / 2 })
    const recipe = { duration: { kind: 'codes' as const, codes: 10 } }
    const durations: number[] = []
    const us: number[] = []
    for (let seed = 1; seed <= 60; seed++) {
      const offset = dark + 3e-5 * next()
      const wave = (t: number): number => offset + 2 * power(153) * (1 - firstOrder(1.7 * ms)(t))
      const trace = record(wave, { rate: 50_000, pre: 0.05, post: 0.25, noise: 8e-4, seed })
      const result = measure(trace, recipe, { from: 153, to: 0, ladder })
      durations.push(valueOf(result, 'transition_duration_s'))
      us.push(result.uncertainties.transition_duration_s ?? Number.NaN)
    }
    const spread = meanSd(durations).s ?? Number.NaN
    // What the ladder and a capture disagree by is one draw a capture: their uncertainties differ, so in the root mean square.
    const stated = Math.sqrt(us.reduce((sum, u) => sum + u * u, 0) / us.length)
    // Sixty repeats know their spread to a tenth; the uncertainty is one of several kinds of its own.
    expect(spread / stated).toBeGreaterThan(0.6)
    expect(spread / stated).toBeLessThan(1.4)
  })
})
