import { fc } from '../support/fast-check.ts'
import { describe, expect, it } from 'vitest'
import {
  incompleteBeta,
  logGamma,
  normalQuantile,
  studentT95,
  studentTCdf,
  studentTUpper,
} from '#shared/signal/distributions.ts'
import { grubbsCritical, grubbsTest, medianDeviation } from '#shared/signal/outliers.ts'
import { GUM, URANIUM } from '../check-values/statistics-rows.ts'
import { studentTQuantile } from '../support/student.ts'
import { mean, meanSd, meanUncertainty, median, quantileSorted } from '#shared/signal/statistics.ts'

describe('distributions', () => {
  it('t quantiles agree with scipy.stats.t.ppf 1.10 to its own precision of 3e-9', () => {
    // scipy 1.10’s ppf misses its own cdf by 2e-10 (0.6 at 30); the closed forms below are the sharper test.
    const scipy: [number, number[]][] = [
      [1, [0.32491969623407446, 3.0776835372078066, 12.706204736432095, 63.65674116287399]],
      [2, [0.2886751346880066, 1.8856180831641507, 4.302652729911275, 9.92484320091807]],
      [5, [0.2671808657039658, 1.4758840487820273, 2.5705818366147395, 4.032142983557536]],
      [30, [0.2556053644420514, 1.3104150225671307, 2.0422724563012373, 2.7499956535670305]],
      [100, [0.25402218245699415, 1.2900747613398769, 1.9839715184496334, 2.6258905205863337]],
      [10_000, [0.2533538434457268, 1.2816362297304775, 1.960201239890626, 2.576321046668529]],
    ]
    for (const [dof, expected] of scipy)
      [0.6, 0.9, 0.975, 0.995].forEach((p, i) =>
        expect(studentTQuantile(p, dof) / (expected[i] as number), `${p} at ${dof}`).toBeCloseTo(1, 8),
      )
  })

  it('t quantiles of 1 and 2 degrees of freedom follow their closed forms far into the tail', () => {
    for (const tail of [0.3, 0.025, 1e-4, 1e-9]) {
      expect(studentTUpper(tail, 1) * Math.tan(Math.PI * tail)).toBeCloseTo(1, 11)
      const a = 1 - 2 * tail
      expect(studentTUpper(tail, 2) / (a * Math.sqrt(2 / (4 * tail * (1 - tail))))).toBeCloseTo(1, 11)
    }
  })

  it('coverage factors agree with NIST TN 1297 table B.1 (read)', () => {
    const table: [number, number, number][] = [
      [1, 12.71, 63.66],
      [2, 4.3, 9.92],
      [3, 3.18, 5.84],
      [4, 2.78, 4.6],
      [5, 2.57, 4.03],
      [6, 2.45, 3.71],
      [7, 2.36, 3.5],
      [8, 2.31, 3.36],
      [9, 2.26, 3.25],
      [10, 2.23, 3.17],
      [15, 2.13, 2.95],
      [19, 2.09, 2.86],
      [20, 2.09, 2.85],
      [30, 2.04, 2.75],
      [Infinity, 1.96, 2.576],
    ]
    for (const [dof, t95, t99] of table) {
      expect(Math.abs(studentT95(dof) - t95), `${dof}`).toBeLessThanOrEqual(0.005)
      expect(Math.abs(studentTQuantile(0.995, dof) - t99), `${dof}`).toBeLessThanOrEqual(0.005)
    }
  })

  it('the 95.45 % factors of the same table', () => {
    const p = 0.5 + 0.9545 / 2
    const table: [number, number][] = [
      [1, 13.97],
      [4, 2.87],
      [9, 2.32],
      [19, 2.14],
      [30, 2.09],
    ]
    for (const [dof, t] of table) expect(Math.abs(studentTQuantile(p, dof) - t)).toBeLessThanOrEqual(0.0051)
  })

  it('normal quantiles and incomplete beta agree with scipy 1.10', () => {
    expect(normalQuantile(1e-12)).toBeCloseTo(-7.034483825301131, 12)
    expect(normalQuantile(0.01)).toBeCloseTo(-2.3263478740408408, 14)
    expect(normalQuantile(0.3)).toBeCloseTo(-0.5244005127080409, 14)
    expect(normalQuantile(0.975)).toBeCloseTo(1.959963984540054, 14)
    expect(normalQuantile(0.9999)).toBeCloseTo(3.719016485455709, 12)
    expect(incompleteBeta(0.3, 2, 0.5)).toBeCloseTo(0.037840969485813114, 14)
    expect(incompleteBeta(0.9, 0.5, 2.5)).toBeCloseTo(0.9988855624584926, 13)
    expect(incompleteBeta(0.7, 10, 3)).toBeCloseTo(0.2528153478549999, 13)
    expect(incompleteBeta(0.99, 200, 0.5)).toBeCloseTo(0.04509410713707715, 13)
    expect(logGamma(0.5)).toBeCloseTo(0.5 * Math.log(Math.PI), 14)
    expect(logGamma(171)).toBeCloseTo(706.5730622457874, 9)
  })

  it('the quantile inverts the cumulative probability', () => {
    fc.assert(
      fc.property(fc.double({ min: 1e-6, max: 1 - 1e-6, noNaN: true }), fc.integer({ min: 1, max: 300 }), (p, dof) => {
        expect(studentTCdf(studentTQuantile(p, dof), dof)).toBeCloseTo(p, 10)
      }),
    )
  })

  it('refuses what is not defined', () => {
    expect(() => studentTQuantile(0, 3)).toThrow(RangeError)
    expect(() => studentTQuantile(0.5, 0)).toThrow(RangeError)
    expect(() => normalQuantile(1)).toThrow(RangeError)
    expect(() => incompleteBeta(2, 1, 1)).toThrow(RangeError)
  })
})

describe('statistics', () => {
  it('s, u and U95 of twenty temperatures agree with numpy and scipy to six digits', () => {
    const result = meanUncertainty(GUM)
    expect(result.s).toBeCloseTo(1.488844, 6)
    expect(result.u).toBeCloseTo(0.332916, 6)
    expect(result.u95).toBeCloseTo(0.332916 * 2.093024, 5)
  })

  it('fewer than five repeats have no usable uncertainty, and say so', () => {
    expect(meanUncertainty([])).toEqual({ n: 0, mean: null, s: null, u: null, u95: null, reason: 'No values.' })
    expect(meanUncertainty([3])).toMatchObject({ mean: 3, s: null, u: null, u95: null })
    const four = meanUncertainty([1, 2, 3, 4])
    expect(four.u95).toBeNull()
    expect(four.reason).toContain('Only 4 repeats')
    expect(four.u).toBeCloseTo(Math.sqrt(5 / 3) / 2, 14)
    expect(meanUncertainty([1, 2, 3, 4, 5]).reason).toBeNull()
  })

  it('U95/s is 1.242, 0.715 and 0.468 at n = 5, 10 and 20 (computed with scipy)', () => {
    const values: [number, number][] = [
      [5, 1.242],
      [10, 0.715],
      [20, 0.468],
    ]
    for (const [n, factor] of values) expect(studentT95(n - 1) / Math.sqrt(n)).toBeCloseTo(factor, 3)
  })

  it('keeps a small spread on a large mean', () => {
    const shifted = [4, 7, 13, 16].map((value) => value + 1e9)
    expect(meanSd(shifted).s).toBeCloseTo(Math.sqrt(30), 6)
    expect(mean(shifted)).toBeCloseTo(1e9 + 10, 5)
  })

  it('quantile is R-7 (numpy default): 1..4 at 0.25 is 1.75', () => {
    expect(quantileSorted([1, 2, 3, 4], 0.25)).toBe(1.75)
    expect(quantileSorted([1, 2, 3, 4, 10], 0.9)).toBeCloseTo(7.6, 12)
    expect(median([3, 1, 2])).toBe(2)
    expect(median([4, 1, 2, 3])).toBe(2.5)
    expect(median([])).toBeNull()
    expect(() => quantileSorted([1], 1.5)).toThrow(RangeError)
    expect(() => median([1, Number.NaN])).toThrow(RangeError)
    expect(() => meanSd([1, Infinity])).toThrow(RangeError)
  })

  it('leaves its input alone', () => {
    const values = [3, 1, 2]
    median(values)
    medianDeviation(values)
    grubbsTest(values)
    expect(values).toEqual([3, 1, 2])
  })

  it('mean and s move with offset and scale', () => {
    const number = fc.double({ min: -1e3, max: 1e3, noNaN: true })
    fc.assert(
      fc.property(fc.array(number, { minLength: 2, maxLength: 40 }), number, (values, offset) => {
        const plain = meanSd(values)
        const moved = meanSd(values.map((value) => 2 * value + offset))
        expect(moved.mean).toBeCloseTo(2 * (plain.mean as number) + offset, 8)
        expect(moved.s).toBeCloseTo(2 * (plain.s as number), 8)
      }),
    )
  })
})

describe('outliers', () => {
  // One-sided .05 and .01, two-sided .05 and .01; computed with scipy, two-sided .05 agreeing with a published table
  // (read) except for that table's misprints at n = 7 and n = 15.
  const TABLE: [number, number, number, number, number][] = [
    [3, 1.1531, 1.1546, 1.1543, 1.1547],
    [4, 1.4625, 1.4925, 1.4813, 1.4963],
    [5, 1.6714, 1.7489, 1.715, 1.7637],
    [6, 1.8221, 1.9442, 1.8871, 1.9728],
    [7, 1.9381, 2.0973, 2.02, 2.1391],
    [8, 2.0317, 2.2208, 2.1266, 2.2744],
    [9, 2.1096, 2.3231, 2.215, 2.3868],
    [10, 2.1761, 2.4097, 2.29, 2.4821],
    [12, 2.285, 2.5494, 2.4116, 2.6357],
    [15, 2.409, 2.7049, 2.5483, 2.8061],
    [20, 2.5566, 2.8838, 2.7082, 3.0008],
    [30, 2.7451, 3.1029, 2.9085, 3.2361],
  ]

  it('has the whole table of critical values', () => {
    for (const [n, one05, one01, two05, two01] of TABLE) {
      expect(Math.abs(grubbsCritical(n, 0.05, 'one') - one05), `${n}`).toBeLessThan(6e-5)
      expect(Math.abs(grubbsCritical(n, 0.01, 'one') - one01), `${n}`).toBeLessThan(6e-5)
      expect(Math.abs(grubbsCritical(n, 0.05, 'two') - two05), `${n}`).toBeLessThan(6e-5)
      expect(Math.abs(grubbsCritical(n, 0.01, 'two') - two01), `${n}`).toBeLessThan(6e-5)
    }
    expect(() => grubbsCritical(2, 0.05, 'two')).toThrow(RangeError)
  })

  it('the largest of the uranium data is one, the smallest none', () => {
    expect(grubbsTest(URANIUM, 0.05, 'largest')).toMatchObject({ outlier: true, index: 7 })
    expect(grubbsTest(URANIUM, 0.05, 'smallest')?.outlier).toBe(false)
  })

  it('is silent where no test exists', () => {
    expect(grubbsTest([1, 2, 30])).toBeNull()
    expect(grubbsTest([2, 2, 2, 2, 2])).toBeNull()
    expect(medianDeviation([])).toBeNull()
  })

  it('Grubbs flags about 5 % of clean normal samples of ten', () => {
    let state = 12345
    const random = () => {
      state = (Math.imul(state, 1664525) + 1013904223) >>> 0
      return (state + 0.5) / 2 ** 32
    }
    let hits = 0
    for (let run = 0; run < 4000; run++) {
      const values = Array.from({ length: 10 }, () => normalQuantile(random()))
      if (grubbsTest(values)?.outlier === true) hits++
    }
    // Binomial standard deviation 0.34 points; four of them.
    expect(Math.abs(hits / 4000 - 0.05)).toBeLessThan(0.0138)
  })
})
