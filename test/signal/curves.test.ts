import { fc } from '../support/fast-check.ts'
import { describe, expect, it } from 'vitest'
import { countCrossings } from '#shared/signal/crossings.ts'
import { firstOrderBoxWidth, firstOrderTauOf } from '#shared/signal/first-order-box.ts'
import { histogramLevels } from '#shared/signal/histogram-levels.ts'
import { parabolaVertex, windowSlope } from '#shared/signal/line-fit.ts'
import { evaluateCurve, invertCurve, monotoneCurve } from '#shared/signal/monotone.ts'
import {
  erfc,
  GAUSSIAN_10_90,
  normalCdf,
  normalPdf,
  normalTable,
  TABLE_DENSITY,
  TABLE_REACH,
} from '#shared/signal/normal.ts'
import { medianInPlace, selectInPlace } from '#shared/signal/robust.ts'
import { integralTo, meanBetween, seriesOf, smoothAt } from '#shared/signal/series.ts'

describe('histogram levels', () => {
  it('of a square wave 0/1 in 100 bins are 0.005 and 0.995 by mode, the levels by mean (IEEE 181 algorithm, read)', () => {
    const square = Float64Array.from({ length: 1000 }, (_, k) => (k % 100 < 50 ? 0 : 1))
    const mode = histogramLevels(square, 100, 'mode')
    expect(Math.abs((mode?.low ?? 0) - 0.005)).toBeLessThan(1e-9)
    expect(Math.abs((mode?.high ?? 0) - 0.995)).toBeLessThan(1e-9)
    expect(histogramLevels(square, 100, 'mean')).toEqual({ low: 0, high: 1 })
  })

  it('takes the bin centres of the published example: four bins of width 0.6000 from −0.0573', () => {
    const values = Float64Array.from([-0.0573, -0.0573, 0.9, 2.3428, 2.3428])
    const found = histogramLevels(values, 4, 'mode')
    expect(found?.low).toBeCloseTo(0.2427, 4)
    expect(found?.high).toBeCloseTo(2.0428, 4)
  })

  it('does not exist for a constant', () => {
    expect(histogramLevels(new Float64Array(10).fill(1), 10, 'mode')).toBeNull()
  })
})

describe('monotone curve', () => {
  it('never leaves the knots’ range between them, and its inverse undoes it', () => {
    const steps = fc.array(fc.double({ min: 1e-3, max: 10, noNaN: true }), { minLength: 3, maxLength: 20 })
    fc.assert(
      fc.property(steps, fc.array(fc.double({ min: 0, max: 1, noNaN: true }), { minLength: 5 }), (rises, at) => {
        const x = Float64Array.from(rises, (_, k) => k)
        let sum = 0
        const y = Float64Array.from(rises, (rise) => (sum += rise))
        const curve = monotoneCurve(x, y)
        for (const share of at) {
          const position = share * (x.length - 1)
          const value = evaluateCurve(curve, position)
          const k = Math.min(x.length - 2, Math.floor(position))
          expect(value).toBeGreaterThanOrEqual((y[k] ?? 0) - 1e-9)
          expect(value).toBeLessThanOrEqual((y[k + 1] ?? 0) + 1e-9)
          const back = evaluateCurve(curve, invertCurve(curve, value))
          expect(Math.abs(back - value)).toBeLessThan(1e-7 * sum)
        }
      }),
    )
  })

  it('passes through scipy’s PchipInterpolator values', () => {
    const curve = monotoneCurve(Float64Array.from([0, 1, 2, 4, 7]), Float64Array.from([0, 1, 4, 5, 11]))
    // scipy 1.x: PchipInterpolator([0,1,2,4,7],[0,1,4,5,11])([0.5, 1.5, 3, 5.5])
    const expected = [0.3125, 2.57112069, 4.54045093, 7.20096154]
    for (const [k, at] of [0.5, 1.5, 3, 5.5].entries()) {
      expect(evaluateCurve(curve, at)).toBeCloseTo(expected[k] ?? 0, 5)
    }
  })
})

describe('normal distribution', () => {
  it('agrees with scipy (erfc 0.5, 1, 3, −1) to 1.2e-7', () => {
    const rows = [
      [0.5, 0.4795001221869535],
      [1, 0.15729920705028513],
      [3, 2.209049699858544e-5],
      [-1, 1.842700792949715],
    ] as const
    for (const [x, y] of rows) expect(Math.abs(erfc(x) / y - 1)).toBeLessThan(1.3e-7)
  })

  it('2 Φ⁻¹(0.9) is 2.563103', () => {
    expect(GAUSSIAN_10_90).toBeCloseTo(2.563103, 5)
    expect(normalCdf(GAUSSIAN_10_90 / 2)).toBeCloseTo(0.9, 6)
  })

  it('the table is within 5e-7 between its entries', () => {
    for (let z = -TABLE_REACH; z < TABLE_REACH; z += 0.0137) {
      const x = (z + TABLE_REACH) * TABLE_DENSITY
      const k = Math.floor(x)
      const at = (offset: number): number => normalTable[2 * k + offset] ?? 0
      expect(Math.abs(at(0) + (x - k) * (at(2) - at(0)) - normalCdf(z))).toBeLessThan(5e-7)
      expect(Math.abs(at(1) + (x - k) * (at(3) - at(1)) - normalPdf(z))).toBeLessThan(5e-7)
    }
  })
})

describe('first-order step averaged over a box', () => {
  it('has the widths of the blur-edge table (computed)', () => {
    const rows = [
      [0.05, 0.802623],
      [0.1, 0.815855],
      [0.2, 0.897619],
      [0.3, 1.035356],
      [0.5, 1.378632],
      [1, 2.360727],
      [2, 4.458339],
    ] as const
    for (const [tau, width] of rows) expect(firstOrderBoxWidth(tau, 1, 0.1)).toBeCloseTo(width, 6)
    expect(firstOrderBoxWidth(0, 1, 0.1)).toBeCloseTo(0.8, 12)
  })

  it('leaves a pure exponential as it is up to 0.214556 τ between 10 and 90 %, 0.061231 τ between 3 and 97 % (computed)', () => {
    expect(firstOrderBoxWidth(1, 0.2145, 0.1)).toBeCloseTo(Math.log(9), 9)
    expect(firstOrderBoxWidth(1, 0.23, 0.1)).toBeGreaterThan(Math.log(9) + 1e-6)
    expect(firstOrderBoxWidth(1, 0.0612, 0.03)).toBeCloseTo(Math.log(97 / 3), 9)
  })

  it('is undone', () => {
    for (const tau of [0.2, 0.7, 3])
      expect(firstOrderTauOf(firstOrderBoxWidth(tau, 1, 0.1), 1, 0.1)).toBeCloseTo(tau, 5)
  })
})

describe('running sums', () => {
  const series = seriesOf(Float64Array.from([1, 3, 2, 6, 4]))
  it('integrate the line through the samples, and beyond the record', () => {
    expect(integralTo(series, 2, 0, 0)).toBeCloseTo(2 + 2.5, 12)
    expect(integralTo(series, 2.5, 0, 0)).toBeCloseTo(4.5 + 0.5 * 3, 12)
    expect(integralTo(series, -2, 7, 0)).toBe(-14)
    expect(integralTo(series, 6, 0, 10)).toBeCloseTo(4.5 + 4 + 5 + 20, 12)
    expect(meanBetween(series, 0, 4)).toBeCloseTo(13.5 / 4, 12)
  })
  it('give centred means that narrow at the ends', () => {
    expect(smoothAt(series, 1, 2)).toBeCloseTo(11 / 3, 12)
    expect(smoothAt(series, 2, 1)).toBeCloseTo(2, 12)
    expect(smoothAt(series, 2, 0)).toBe(1)
  })
  it('give slopes of windows that no block length divides', () => {
    const line = seriesOf(Float64Array.from({ length: 1013 }, (_, k) => 5 + 0.25 * k))
    expect(windowSlope(line, 7, 1003)).toBeCloseTo(0.25, 12)
    expect(windowSlope(seriesOf(new Float64Array(997).fill(3)), 0, 997)).toBe(0)
  })
})

describe('order statistics', () => {
  it('agree with sorting', () => {
    fc.assert(
      fc.property(fc.array(fc.double({ noNaN: true, min: -1e6, max: 1e6 }), { minLength: 1 }), (values) => {
        const sorted = Float64Array.from(values).sort()
        const n = values.length
        for (const k of [0, n >> 1, n - 1]) expect(selectInPlace(Float64Array.from(values), k)).toBe(sorted[k])
        const median = n % 2 ? sorted[n >> 1] : ((sorted[n / 2 - 1] ?? 0) + (sorted[n / 2] ?? 0)) / 2
        expect(medianInPlace(Float64Array.from(values))).toBe(median)
      }),
    )
  })
})

describe('the middle of long lists', () => {
  const scattered = (n: number): number[] => Array.from({ length: n }, (_, k) => Math.sin(k * k + 1))
  const LISTS: [string, (n: number) => number[]][] = [
    ['scattered', scattered],
    ['in few steps', (n) => scattered(n).map((y) => 100 + Math.round(6 * y))],
    ['all equal', (n) => scattered(n).map(() => 0.1)],
    ['all but one in a corner', (n) => scattered(n).map((y, k) => (k === 7 ? 1e9 : y))],
    ['in two groups', (n) => scattered(n).map((y, k) => (k % 2 === 0 ? y - 1000 : y + 1000))],
    ['in groups of a third', (n) => scattered(n).map((y, k) => y + 50 * (k % 3))],
  ]
  it.each(LISTS)('%s', (_, make) => {
    for (const n of [511, 512, 513, 1024, 1025, 20_000]) {
      const values = make(n)
      const sorted = Float64Array.from(values).sort()
      const median = n % 2 ? sorted[n >> 1] : ((sorted[n / 2 - 1] ?? 0) + (sorted[n / 2] ?? 0)) / 2
      expect(medianInPlace(Float64Array.from(values)), `${n} values`).toBe(median)
    }
  })
})

describe('crossings of a band', () => {
  it('are counted as by looking at every sample', () => {
    const sample = fc.integer({ min: -3, max: 3 })
    fc.assert(
      fc.property(fc.array(sample, { minLength: 1, maxLength: 60 }), (values) => {
        let side = 0
        const at: number[] = []
        values.forEach((y, k) => {
          const now = y > 1 ? 1 : y < -1 ? -1 : 0
          if (now === 0 || now === side) return
          if (side !== 0) at.push(k)
          side = now
        })
        const found = countCrossings(seriesOf(Float64Array.from(values)), 0, -1, 1)
        expect(found).toEqual({ count: at.length, first: at[0] ?? -1, last: at.at(-1) ?? -1 })
      }),
    )
  })
})

describe('parabola', () => {
  it('finds the vertex of a parabola, and none where it curves the other way', () => {
    const values = Float64Array.from({ length: 30 }, (_, k) => 4 - 0.1 * (k - 13.3) ** 2)
    const vertex = parabolaVertex(values, 8, 20, 14, 1)
    expect(vertex?.at).toBeCloseTo(13.3, 9)
    expect(vertex?.value).toBeCloseTo(4, 9)
    expect(parabolaVertex(values, 8, 20, 14, -1)).toBeNull()
    expect(parabolaVertex(values, 20, 28, 24, 1)).toBeNull()
  })
})
