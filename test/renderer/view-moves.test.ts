import { fc } from '../support/fast-check.ts'
import { describe, expect, it } from 'vitest'
import { around, fit, panBy, zoomAbout, type Span } from '../../src-renderer/plot/view-moves.ts'

const RECORD: Span = [-50, 250]
const length = ([low, high]: Span): number => high - low

describe('looking closer and sideways', () => {
  it('keeps the instant under the pointer where it is', () => {
    const next = zoomAbout([0, 100], 0.5, 25, RECORD, 0.001)
    expect(next[0]).toBeCloseTo(12.5, 9)
    expect(next[1]).toBeCloseTo(62.5, 9)
  })

  it('moves by a share of what is in view and stops a little past the record', () => {
    expect(panBy([0, 10], 0.5, RECORD)).toEqual([5, 15])
    expect(panBy([240, 250], 10, RECORD)).toEqual([255, 265])
  })

  it('shows the whole record and a margin at most, and no less than the least', () => {
    expect(zoomAbout(RECORD, 100, 0, RECORD, 0.001)).toEqual([-65, 265])
    expect(length(zoomAbout([0, 0.01], 0.001, 0, RECORD, 0.005))).toBeCloseTo(0.005, 9)
  })

  it('shows a few samples in their surroundings', () => {
    const span = around([10, 10], RECORD, 0.5)
    expect(span[0]).toBeLessThan(9.7)
    expect(span[1]).toBeGreaterThan(10.3)
  })

  it('never leaves the limits, whatever is asked', () => {
    const number = fc.double({ min: -1e4, max: 1e4, noNaN: true })
    fc.assert(
      fc.property(number, number, number, fc.double({ min: 0.01, max: 50, noNaN: true }), (a, b, about, factor) => {
        const span: Span = [Math.min(a, b), Math.max(a, b) + 0.01]
        for (const next of [fit(span, RECORD, 0.01), zoomAbout(fit(span, RECORD, 0.01), factor, about, RECORD, 0.01)]) {
          expect(next[0]).toBeGreaterThanOrEqual(-65 - 1e-9)
          expect(next[1]).toBeLessThanOrEqual(265 + 1e-9)
          expect(length(next)).toBeGreaterThan(0)
        }
      }),
    )
  })
})
