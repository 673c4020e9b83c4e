/** A bounded slice of `npm run latency`, whose result is in assets/latency.md. */
import { describe, expect, it } from 'vitest'
import { coverage } from './coverage.ts'

describe('intervals of latency', () => {
  it('hold the truth about as often as they say: 40 campaigns of 100 events at 144 Hz', () => {
    const { rows, unclear } = coverage([144], 40, 100, 7)
    expect(unclear).toBe(0)
    // Of 40 at 95 % fewer than 33 hold with a chance of 1 in 1,400 (binomial law), for each of eight quantities.
    for (const { quantity, held } of rows) expect(held, quantity).toBeGreaterThanOrEqual(33)
    // Intervals that always hold say nothing: of all eight together some must miss.
    expect(rows.reduce((sum, { held }) => sum + held, 0)).toBeLessThan(40 * rows.length)
  })
})
