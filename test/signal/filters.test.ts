import { describe, expect, it } from 'vitest'
import { filterInPlace, lowPassInPlace, lowPassSections, type LowPassShape } from '#shared/signal/low-pass.ts'
import { movingAverage } from '#shared/signal/moving-average.ts'
import { savitzkyGolay, savitzkyGolayWeights } from '#shared/signal/savitzky-golay.ts'
import { seriesOf } from '#shared/signal/series.ts'

const step = (n: number): Float64Array => Float64Array.from({ length: n }, (_, k) => (k < n / 2 ? 0 : 1))

const overshoot = (points: number, order: number): number =>
  100 * (Math.max(...savitzkyGolay(step(200), points, order)) - 1)

describe('Savitzky–Golay', () => {
  it('has the weights of the 1964 tables (quadratic 5, 7, 9, 11; quartic 7, 9; from memory, equal to scipy)', () => {
    const rows: [number, number, number[], number][] = [
      [5, 2, [-3, 12, 17, 12, -3], 35],
      [7, 2, [-2, 3, 6, 7, 6, 3, -2], 21],
      [9, 3, [-21, 14, 39, 54, 59, 54, 39, 14, -21], 231],
      [11, 2, [-36, 9, 44, 69, 84, 89, 84, 69, 44, 9, -36], 429],
      [7, 4, [5, -30, 75, 131, 75, -30, 5], 231],
      [9, 4, [15, -55, 30, 135, 179, 135, 30, -55, 15], 429],
    ]
    for (const [points, order, numerators, denominator] of rows) {
      const weights = savitzkyGolayWeights(points, order)
      numerators.forEach((a, i) => expect(Math.abs((weights[i] ?? 0) - a / denominator)).toBeLessThan(1e-12))
    }
  })

  it('rings on an ideal step: 8.57 % (5, 2), 8.391608 % (11, 2), 8.19 % (25, 2), 8.75 % (25, 4) (computed with scipy)', () => {
    expect(overshoot(5, 2)).toBeCloseTo(8.57143, 4)
    expect(Math.abs(overshoot(11, 2) - 8.391608)).toBeLessThan(1e-5)
    expect(overshoot(25, 2)).toBeCloseTo(8.19, 2)
    expect(overshoot(25, 4)).toBeCloseTo(8.75, 2)
  })

  it('keeps a polynomial of its order', () => {
    const values = Float64Array.from({ length: 60 }, (_, k) => 1 + 0.2 * k - 0.01 * k * k)
    const out = savitzkyGolay(values, 9, 2)
    for (let k = 4; k < 56; k++) expect(Math.abs((out[k] ?? 0) - (values[k] ?? 0))).toBeLessThan(1e-12)
  })
})

describe('moving average', () => {
  it('has its notch at one over its width and leaves 0.009899 of a sine 1 % off (computed)', () => {
    const n = 4000
    const gain = (cycles: number, width: number): number => {
      const values = Float64Array.from({ length: n }, (_, k) => Math.sin(2 * Math.PI * cycles * k))
      return Math.max(...movingAverage(seriesOf(values), width).subarray(400, n - 400))
    }
    // The line through the samples has the sine's integral to (π/period)²/12; a long period shows the notch itself.
    expect(gain(1 / 400, 400)).toBeLessThan(1e-5)
    expect(Math.abs(gain(1.01 / 400, 400) - 0.009899)).toBeLessThan(1e-5)
  })

  it('takes widths that are no whole number and holds the ends', () => {
    const values = Float64Array.from({ length: 2000 }, (_, k) => 3 + Math.sin((2 * Math.PI * k) / 83.3))
    for (const y of movingAverage(seriesOf(values), 83.3)) expect(Math.abs(y - 3)).toBeLessThan(2e-4)
  })

  it('turns a step into a ramp of its width', () => {
    const out = movingAverage(seriesOf(step(400)), 41)
    expect(out[200 + 21]).toBe(1)
    expect(out[180] ?? 0).toBeGreaterThan(0)
    expect((out[210] ?? 0) - (out[209] ?? 0)).toBeCloseTo(1 / 41, 6)
  })
})

describe('low-pass', () => {
  it('Butterworth 2 at a quarter of the rate: b 0.292893 0.585786 0.292893, a 1 0 0.171573 (scipy)', () => {
    const [section] = lowPassSections('butterworth-2', 1, 4) ?? []
    expect(section?.b0).toBeCloseTo(0.292893, 6)
    expect(section?.b1).toBeCloseTo(0.585786, 6)
    expect(section?.b2).toBeCloseTo(0.292893, 6)
    expect(section?.a1).toBeCloseTo(0, 6)
    expect(section?.a2).toBeCloseTo(0.171573, 6)
  })

  it('Butterworth 2 at 0.1 of half the rate: b 0.02008337 …, a 1 −1.56101808 0.64135154 (scipy)', () => {
    const [section] = lowPassSections('butterworth-2', 0.05, 1) ?? []
    expect(section?.b0).toBeCloseTo(0.02008337, 8)
    expect(section?.a1).toBeCloseTo(-1.56101808, 8)
    expect(section?.a2).toBeCloseTo(0.64135154, 8)
  })

  it.each<[LowPassShape, number, number]>([
    ['one-pole', 0, 0.349699],
    ['butterworth-2', 4.321, 0.341871],
    ['butterworth-4', 10.8302, 0.38713],
    ['bessel-2', 0.433, 0.342068],
    ['bessel-4', 0.835, 0.35013],
  ])('%s: step overshoot %f % and duration × cut-off %f (analog, computed)', (shape, overshoot, product) => {
    const perPeriod = 2000
    const values = step(40_000)
    filterInPlace(values, lowPassSections(shape, 1, perPeriod) ?? [])
    expect(Math.abs(100 * (Math.max(...values) - 1) - overshoot)).toBeLessThan(0.01)
    const cross = (level: number): number => {
      const k = values.findIndex((y) => y >= level)
      const a = values[k - 1] ?? 0
      return k - 1 + (level - a) / ((values[k] ?? 0) - a)
    }
    expect(Math.abs((cross(0.9) - cross(0.1)) / perPeriod / product - 1)).toBeLessThan(1e-3)
  })

  it('is −3 dB at the cut-off, −6 dB forward and backward, without delay', () => {
    for (const shape of ['one-pole', 'bessel-2', 'bessel-4', 'butterworth-2', 'butterworth-4'] as const) {
      const n = 20_000
      const sine = Float64Array.from({ length: n }, (_, k) => Math.sin((2 * Math.PI * k) / 100))
      const sections = lowPassSections(shape, 0.01, 1) ?? []
      const once = sine.slice()
      lowPassInPlace(once, sections, 'causal')
      expect(Math.max(...once.subarray(n / 2))).toBeCloseTo(Math.SQRT1_2, 3)
      const both = sine.slice()
      lowPassInPlace(both, sections, 'zero')
      const middle = both.subarray(n / 2, n / 2 + 100)
      middle.forEach((y, k) => expect(Math.abs(y - 0.5 * (sine[n / 2 + k] ?? 0))).toBeLessThan(1e-3))
    }
  })

  it('starts at rest: a constant stays what it is', () => {
    const values = new Float64Array(50).fill(2.5)
    lowPassInPlace(values, lowPassSections('bessel-4', 0.1, 1) ?? [], 'zero')
    for (const y of values) expect(y).toBeCloseTo(2.5, 12)
  })

  it('refuses a cut-off at half the rate', () => {
    expect(lowPassSections('one-pole', 0.5, 1)).toBeNull()
  })
})
