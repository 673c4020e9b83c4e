/** A bounded slice of `npm run latency`, whose result is in assets/latency.md, and what its intervals rest on. */
import { describe, expect, it } from 'vitest'
import { rankInterval } from '#shared/latency/rank-interval.ts'
import { coverage, drawnEvents, shapeAlarms } from './coverage.ts'

describe('intervals of latency', () => {
  it('hold the truth about as often as they say: 40 campaigns of 100 events at 144 Hz, every event a record', () => {
    const { rows, unclear } = coverage([144], 40, 100, 7)
    expect(unclear).toBe(0)
    // Of 40 at 95 % fewer than 33 hold with a chance of 1 in 1,400 (binomial law), for each of eight quantities.
    for (const { quantity, held } of rows) expect(held, quantity).toBeGreaterThanOrEqual(33)
    // Intervals that always hold say nothing: of all eight together some must miss.
    expect(rows.reduce((sum, { held }) => sum + held, 0)).toBeLessThan(40 * rows.length)
  })

  it('hold it in 93 to 97 % of 1,000 campaigns of 200 events at 240 Hz', () => {
    // At 95 % a share of 1,000 leaves those bounds with a chance of 0.4 %; the seed is fixed.
    for (const { quantity, held } of coverage([240], 1000, 200, 3, drawnEvents).rows) {
      expect(held, quantity).toBeGreaterThanOrEqual(930)
      expect(held, quantity).toBeLessThanOrEqual(970)
    }
  })
})

describe('an end between two ranks', () => {
  // P((1 − λ)U₍r₎ + λU₍r+1₎ > q) of even values from their joint law, by scipy 1.17 (beta law and quad), of the ends
  // found there by Nyblom’s formula from binomial probabilities.
  it.each([
    [100, 0.5, 40, 0.7632, 0.025],
    [100, 0.95, 90, 0.8996, 0.025],
    [200, 0.25, 38, 0.7886, 0.025],
    [400, 0.05, 12, 0.4909, 0.0251],
    [1000, 0.05, 37, 0.4818, 0.025],
    [1000, 0.5, 469, 0.5331, 0.025],
    [1000, 0.99, 983, 0.9322, 0.025],
  ])('of %d events and the quantile %d lies at rank %d + %d and misses with %d', (n, q, rank, share, miss) => {
    const { low } = rankInterval(n, q)
    expect(low?.rank).toBe(rank)
    expect(low?.share).toBeCloseTo(share, 3)
    expect(miss).toBeLessThan(0.0252)
    // The upper end is the lower one of the events turned about.
    const turned = rankInterval(n, 1 - q).high
    expect(turned).toEqual({ rank: n + 1 - rank, share: expect.closeTo(share, 3) as number })
  })

  it('is a bound of 95 % where the other side is open, and none where both are', () => {
    // 0.99^100 = 36.6 %: no upper end. P(B ≤ 96 of 100 at 0.99) = 1.8 %, ≤ 97: 7.9 %; between them lies 5 %.
    const { low, high } = rankInterval(100, 0.99)
    expect(high).toBeNull()
    expect(low?.rank).toBe(97)
    expect(low?.share).toBeGreaterThan(0.27)
    expect(rankInterval(3, 0.5)).toEqual({ low: null, high: null })
  })
})

describe('the spread of one frame’s wait', () => {
  it('is taken for something else in one run of twenty, whatever the number of events', () => {
    // Of 1,000 at 5 % fewer than 25 or more than 75 with a chance of 1 in 3,000.
    for (const events of [50, 100, 400]) {
      const alarms = shapeAlarms(0, 144, 1000, events, events)
      expect(alarms, `${events} events`).toBeGreaterThanOrEqual(25)
      expect(alarms, `${events} events`).toBeLessThanOrEqual(75)
    }
  })
  it('is told from one with a poll of half a frame beside it', () => {
    expect(shapeAlarms(1000 / 288, 144, 50, 400, 4)).toBe(50)
  })
})
