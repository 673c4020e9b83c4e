import { describe, expect, it } from 'vitest'
import { compareCanaries } from '#shared/findings/campaign/canary.ts'
import { combined, type Estimate, u95Of } from '#shared/findings/campaign/estimate.ts'
import { verdictOf, worstVerdict } from '#shared/findings/campaign/limits.ts'
import { movingEdge, srgbCode } from '#shared/findings/campaign/moving-edge.ts'
import { meanOverRefresh, refreshWeights } from '#shared/findings/campaign/over-refresh.ts'
import { groupLetters, holm, rank } from '#shared/findings/campaign/ranks.ts'
import { fTail, fUpper } from '#shared/signal/f-distribution.ts'

const well = (value: number, u: number | null = 0.2): Estimate => ({ value, u, dof: Infinity, shared: 0 })

describe('comparing displays', () => {
  const five = [3.0, 3.4, 3.9, 4.6, 4.8].map((value) => well(value))
  it('gives five close values the letters of a worked example', () => {
    // Every pair apart by more than U95 of the difference, 0.5544, differs; worked by hand.
    const differs = (i: number, j: number): boolean =>
      Math.abs((five[i] as Estimate).value - (five[j] as Estimate).value) > 0.5544
    expect(groupLetters(five, 'low', differs)).toEqual(['a', 'ab', 'b', 'c', 'c'])
  })
  it('gives rank ranges that all pairs together carry', () => {
    const { ranked, differs } = rank(five, 'low')
    // Holm over ten pairs: 3.0 and 3.9 (z = 3.18, p = 0.0015) differ, 3.0 and 3.4 (p = 0.16) do not.
    expect(differs(0, 2)).toBe(true)
    expect(differs(0, 1)).toBe(false)
    expect(ranked[0]).toMatchObject({ best: 1, worst: 2 })
    expect(ranked[4]).toMatchObject({ worst: 5 })
    expect(rank([well(1, null), well(9)], 'low').ranked.map(({ best, worst }) => [best, worst])).toEqual([
      [1, 2],
      [1, 2],
    ])
    expect(rank([well(90, 0.1), well(80, 0.1)], 'high').ranked[0]).toMatchObject({ best: 1, worst: 1, letters: 'a' })
  })
  it('adjusts p-values by Holm', () => {
    const adjusted = holm([0.001, 0.012, 0.02, 0.04, 0.3])
    const expected = [0.005, 0.048, 0.06, 0.08, 0.3]
    adjusted.forEach((p, i) => expect(p).toBeCloseTo(expected[i] as number, 12))
  })
})

describe('limits', () => {
  it('tells usable, not usable and cannot tell', () => {
    const limit = { bound: 'at-most', value: 5 } as const
    expect(verdictOf(well(4), limit)).toBe('usable')
    expect(verdictOf(well(4.9), limit)).toBe('cannot-tell')
    expect(verdictOf(well(5.5), limit)).toBe('not-usable')
    expect(verdictOf(well(1, null), limit)).toBe('cannot-tell')
    expect(verdictOf(well(96), { bound: 'at-least', value: 95 })).toBe('usable')
  })
  it('lets the worst of several decide', () => {
    expect(worstVerdict(['usable', 'cannot-tell'])).toBe('cannot-tell')
    expect(worstVerdict(['cannot-tell', 'not-usable', 'usable'])).toBe('not-usable')
    expect(worstVerdict(['usable', 'usable'])).toBe('usable')
    expect(worstVerdict([])).toBe('cannot-tell')
  })
})

describe('mean over refresh', () => {
  const f = [60, 75, 100, 120, 144, 165]
  const y = [5, 4, 3.2, 3, 2.9, 2.9]
  const points = f.map((refreshHz, i) => ({ refreshHz, estimate: well(y[i] as number, 0.1) }))
  it('weighs rates alike or by their part of the range', () => {
    // numpy: mean, and trapezoid over f divided by its length.
    expect(meanOverRefresh(points, 'equal')?.value).toBeCloseTo(3.5, 12)
    expect(meanOverRefresh(points, 'equal')?.u).toBeCloseTo(0.04082, 5)
    expect(meanOverRefresh(points, 'trapezoid')?.value).toBeCloseTo(3.34476, 5)
    expect(meanOverRefresh(points, 'trapezoid')?.u).toBeCloseTo(0.04326, 5)
    expect(refreshWeights(f, 'trapezoid')[1]).toBeCloseTo(0.1904762, 6)
  })
  it('refuses rates out of order, and has no mean of nothing', () => {
    expect(() => refreshWeights([60, 60], 'trapezoid')).toThrow(RangeError)
    expect(meanOverRefresh([], 'equal')).toBeNull()
  })
})

describe('uncertainty of differences', () => {
  it('keeps what is shared out of differences and in single values', () => {
    expect(u95Of({ value: 1, u: 0.3, dof: Infinity, shared: 0.4 })).toBeCloseTo(1.959964 * 0.5, 6)
    expect(combined([well(1, 3), well(2, 4)], [1, -1]).u).toBeCloseTo(5, 12)
    expect(u95Of(well(1, null))).toBeNull()
  })
})

describe('canaries', () => {
  it('has the F law of scipy.stats.f', () => {
    expect(fUpper(0.05, 4, 16)).toBeCloseTo(3.006917279924345, 9)
    expect(fUpper(4.4e-4, 4, 16)).toBeCloseTo(9.30546, 3)
    expect(fTail(3.006917279924345, 4, 16)).toBeCloseTo(0.05, 12)
  })
  const of = (scale: number): number[][] => [4, 6, 9, 14].map((ms) => [0.99, 1, 1.01].map((f) => f * ms * scale))
  it('answers changed, unchanged or cannot tell', () => {
    expect(compareCanaries(of(1), of(1), 4.4e-4, 0.05).answer).toBe('unchanged')
    const moved = compareCanaries(of(1), of(1.1), 4.4e-4, 0.05)
    expect(moved.answer).toBe('changed')
    expect(moved.meanChange).toBeCloseTo(0.1, 9)
    expect(compareCanaries(of(1), of(1.005), 4.4e-4, 0.015).answer).toBe('cannot-tell')
    expect(() => compareCanaries([[1]], [[1]], 0.01, 0.05)).toThrow(RangeError)
  })
})

describe('moving edge', () => {
  it('averages a first-order response over one frame as the closed form does', () => {
    // METP(T) = 1 − (τ/T)(1 − e^{−T/τ}); τ/T = 0.3: 0.710702.
    const frameS = 1 / 60
    const tau = 0.3 * frameS
    const stepS = frameS / 4096
    const response = Float64Array.from({ length: 4 * 4096 + 1 }, (_, i) => 1 - Math.exp((-i * stepS) / tau))
    const edge = movingEdge(response, stepS, 0, frameS, 4)
    expect(edge.timeS[0]).toBeCloseTo(frameS, 12)
    expect(edge.light[0]).toBeCloseTo(0.710702, 5)
    expect(edge.light[1]).toBeCloseTo(0.98968, 5)
    expect(() => movingEdge(response, stepS, 0, 1, 4)).toThrow(RangeError)
  })
  it('makes sRGB codes of averaged light, not averages of codes', () => {
    expect(srgbCode(0.5)).toBeCloseTo(187.516, 3)
    // IEC 61966-2-1: codes 51 and 102 are 0.0331048 and 0.1328683 of full light.
    expect(srgbCode((0.0331048 + 0.1328683) / 2)).toBeCloseTo(81.3378, 3)
  })
})
