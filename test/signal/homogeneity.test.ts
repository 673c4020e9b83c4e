/** Equality of variances. Expected values by scipy.stats (chi2.sf, bartlett, f.isf). */
import { describe, expect, it } from 'vitest'
import { chiSquareTail } from '#shared/signal/chi-square.ts'
import { bartlettProbability, cochranCritical, cochranOutliers, pooledVariance } from '#shared/signal/homogeneity.ts'
import { combineParts } from '#shared/signal/welch-satterthwaite.ts'
import { gaussian } from '../reference/waves.ts'

describe('upper tail of χ²', () => {
  it.each([
    [0.5, 1, 0.47950012218695337],
    [3.84, 1, 0.05004352124870519],
    [2, 5, 0.8491450360846096],
    [15, 5, 0.010362337915786429],
    [40, 19, 0.003272317118779744],
    [5, 19, 0.9994309626474822],
    [250, 200, 0.009379131668826098],
    [150, 200, 0.996647558501813],
  ])('of %f with %i degrees of freedom', (x, dof, expected) => {
    expect(Math.abs(chiSquareTail(x, dof) / expected - 1)).toBeLessThan(1e-11)
  })
  it('ends at 1 and 0, and refuses what is none', () => {
    expect([chiSquareTail(0, 3), chiSquareTail(Infinity, 3)]).toEqual([1, 0])
    expect(() => chiSquareTail(-1, 3)).toThrow(RangeError)
  })
})

describe('equal variances', () => {
  it('gives Bartlett’s probability of unequal groups', () => {
    const groups = [
      { s2: 1.5833333333333333, dof: 2 },
      { s2: 0.10333333333333336, dof: 2 },
      { s2: 4.083333333333333, dof: 2 },
      { s2: 0.16333333333333333, dof: 3 },
    ]
    expect(bartlettProbability(groups)).toBeCloseTo(0.059331139917002285, 10)
    expect(bartlettProbability([])).toBe(1)
    expect(
      bartlettProbability([
        { s2: 0, dof: 2 },
        { s2: 1, dof: 2 },
      ]),
    ).toBe(0)
  })

  it('has the critical values of Cochran’s C (formula; 20 groups of 2, 3, 4, 5 and 10 at 5 %)', () => {
    for (const [n, expected] of [
      [2, 0.3894],
      [3, 0.2705],
      [4, 0.2205],
      [5, 0.1921],
      [10, 0.1358],
    ] as const)
      expect(cochranCritical(n - 1, 20 * (n - 1), 20, 0.05)).toBeCloseTo(expected, 4)
  })

  it('takes out what stands out, one at a time, and nothing else', () => {
    const same = Array.from({ length: 20 }, () => ({ s2: 1, dof: 2 }))
    expect(cochranOutliers(same)).toEqual(new Set())
    expect(cochranOutliers([...same, { s2: 40, dof: 2 }, { s2: 20, dof: 2 }])).toEqual(new Set([20, 21]))
    expect(pooledVariance([])).toBeNull()
    expect(
      pooledVariance([
        { s2: 1, dof: 2 },
        { s2: 4, dof: 4 },
      ]),
    ).toEqual({ s2: 3, dof: 6 })
  })

  it.each([3, 5])('doubts about one in twenty sound sweeps of 20 transitions at n = %i', (n) => {
    const next = gaussian(11 * n)
    const runs = 2000
    let bartlett = 0
    let cochran = 0
    for (let run = 0; run < runs; run++) {
      const variances = Array.from({ length: 20 }, () => {
        const values = Array.from({ length: n }, next)
        const mean = values.reduce((a, b) => a + b, 0) / n
        return { s2: values.reduce((sum, v) => sum + (v - mean) ** 2, 0) / (n - 1), dof: n - 1 }
      })
      if (bartlettProbability(variances) < 0.05) bartlett++
      if (cochranOutliers(variances).size > 0) cochran++
    }
    // Three standard errors of 2,000 runs are 1.5 %.
    expect(bartlett / runs).toBeGreaterThan(0.03)
    expect(bartlett / runs).toBeLessThan(0.066)
    expect(cochran / runs).toBeGreaterThan(0.034)
    expect(cochran / runs).toBeLessThan(0.066)
  })
})

describe('effective degrees of freedom', () => {
  it('are those of GUM example H.1 (inputs from memory): 31.67 nm, 16.76', () => {
    const { u, dof } = combineParts([
      { u: 25, dof: 18 },
      { u: 9.7, dof: 25.6 },
      { u: 2.9, dof: 50 },
      { u: 16.6, dof: 2 },
    ])
    expect(u).toBeCloseTo(31.67, 1)
    expect(dof).toBeCloseTo(16.7646, 3)
  })
  it('are endless where everything is well known', () => {
    expect(
      combineParts([
        { u: 3, dof: Infinity },
        { u: 4, dof: Infinity },
      ]),
    ).toEqual({ u: 5, dof: Infinity })
    expect(combineParts([])).toEqual({ u: 0, dof: Infinity })
  })
})
