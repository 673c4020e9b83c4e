/** Noise that wanders: closed forms of 1/f noise against numpy, and the law of a drift it feigns. */
import { describe, expect, it } from 'vitest'
import { flickerApart, flickerShares, wanderOf } from '#shared/measure/flags/wander.ts'
import { reachOf } from '#shared/measure/flags/budget.ts'
import { windowSlope } from '#shared/signal/line-fit.ts'
import { seriesOf } from '#shared/signal/series.ts'
import { gaussian } from '../../reference/waves.ts'

describe('1/f noise', () => {
  it('moves means of 200 samples, 1, 5 and 15 lengths apart, as its closed form says', () => {
    // 2.772589, 6.212155, 8.415359 and, 1e4 apart, the limit 2 ln d + 3 (computed in Python from the same integral).
    expect(flickerApart(1)).toBeCloseTo(4 * Math.LN2, 12)
    expect(flickerApart(5)).toBeCloseTo(6.212155, 6)
    expect(flickerApart(15)).toBeCloseTo(8.415359, 6)
    expect(flickerApart(1000)).toBeCloseTo(flickerApart(1001), 2)
  })

  it('feigns a change 2.22 times what its scatter about a line lets one expect of white noise', () => {
    // 4,000 records made in numpy by their spectrum: standard deviation of the change 2.931, ratio of variances 4.93.
    // What is slower than four records was not in them, and takes 2 or 3 % of either.
    const { residue, trend } = flickerShares(16)
    expect(Math.sqrt(trend) / 2.931).toBeCloseTo(1.025, 1)
    expect(trend / ((12 * residue) / (14 * 16)) / 4.93).toBeCloseTo(1.03, 1)
  })
})

/** 1/f noise as a sum of relaxations half a decade apart, which forget after 1 to 100,000 samples. */
function flicker(next: () => number, n: number): Float64Array {
  const out = new Float64Array(n)
  for (let decade = 0; decade <= 5; decade += 0.5) {
    const keep = Math.exp(-1 / 10 ** decade)
    const fresh = Math.sqrt(1 - keep * keep)
    let x = next()
    for (let i = 0; i < n; i++) {
      out[i]! += x
      x = keep * x + fresh * next()
    }
  }
  return out
}

describe('a drift through a plateau', () => {
  it('of 1/f noise exceeds its limit no more often than it says', () => {
    const next = gaussian(7)
    const reach = reachOf(0.05, 14)
    let over = 0
    for (let run = 0; run < 400; run++) {
      const series = seriesOf(flicker(next, 640))
      const { trendV, dof } = wanderOf(series, 0, 640, 0)!
      expect(dof).toBe(14)
      if (Math.abs(windowSlope(series, 0, 640) * 640) > reach * trendV) over++
    }
    // 5 % expected; 3 standard deviations of a count of 400.
    expect(over / 400).toBeLessThan(0.083)
    expect(over / 400).toBeGreaterThan(0.017)
  })

  it('that is even is seen far below its limit’s worth of white noise', () => {
    const next = gaussian(9)
    const series = seriesOf(Float64Array.from({ length: 640 }, (_, i) => 0.01 * i + next()))
    const { trendV, dof } = wanderOf(series, 0, 640, 0)!
    expect(windowSlope(series, 0, 640) * 640).toBeGreaterThan(reachOf(4e-4, dof) * trendV)
  })
})
