import { describe, expect, it } from 'vitest'
import type { MatrixEntry } from '#shared/domain/views.ts'
import { cellEffect } from '../../src-renderer/features/traces/cell-effect.ts'

const entry = (captureId: number, arrival: number | null, excluded = false): MatrixEntry => ({
  captureId,
  repeat: captureId,
  values: { arrival_s: arrival },
  flagCount: 0,
  excluded,
  overridden: false,
})

describe('effect of a capture on its cell', () => {
  it('says what the mean would be without it', () => {
    const effect = cellEffect([entry(1, 1), entry(2, 2), entry(3, 6)], 'arrival_s', 3)
    expect(effect).toMatchObject({ now: { n: 3, mean: 3 }, otherwise: { n: 2, mean: 1.5 }, change: -1.5, excluded: 0 })
    expect(effect?.now.u95).toBeNull()
  })

  it('says what the mean would be with one that is excluded', () => {
    const effect = cellEffect([entry(1, 1), entry(2, 3), entry(3, 8, true)], 'arrival_s', 3)
    expect(effect).toMatchObject({
      isExcluded: true,
      excluded: 1,
      now: { n: 2, mean: 2 },
      otherwise: { n: 3, mean: 4 },
    })
    expect(effect?.change).toBe(2)
  })

  it('gives an interval from five captures on', () => {
    const five = [1, 2, 3, 4, 5].map((value, i) => entry(i + 1, value))
    const effect = cellEffect(five, 'arrival_s', 5)
    // t(95 %, 4) = 2.7764, s = 1.5811.
    expect(effect?.now.u95).toBeCloseTo((2.7764 * 1.58114) / Math.sqrt(5), 3)
    expect(effect?.otherwise?.u95).toBeNull()
  })

  it('moves nothing without a value, leaves no mean behind the only one, and is not there for a stranger', () => {
    expect(cellEffect([entry(1, 1), entry(2, null)], 'arrival_s', 2)).toMatchObject({ otherwise: null, change: null })
    expect(cellEffect([entry(1, 1)], 'arrival_s', 1)).toMatchObject({ otherwise: { n: 0, mean: null }, change: null })
    expect(cellEffect([entry(1, 1)], 'arrival_s', 9)).toBeNull()
  })
})
