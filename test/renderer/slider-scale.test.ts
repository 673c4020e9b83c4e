import { fc } from '../support/fast-check.ts'
import { describe, expect, it } from 'vitest'
import { DEFAULT_RECIPE } from '#shared/domain/recipe.ts'
import { fieldsOf } from '../../src-renderer/features/recipes/parameters.ts'
import { parseTyped, positionOf, positionsOf, typedText, valueAt } from '../../src-renderer/ui/slider-scale.ts'

const PERCENT = { min: 0.5, max: 45, step: 0.5 }
const HERTZ = { min: 1, max: 5_000_000, step: 1, logarithmic: true }

describe('slider positions', () => {
  it.each([PERCENT, HERTZ, { min: 0, max: 50, step: 0.5 }, { min: 5, max: 501, step: 2 }])(
    'reach both ends exactly, ascend, and find their way back: %j',
    (scale) => {
      const last = positionsOf(scale)
      expect(valueAt(0, scale)).toBe(scale.min)
      expect(valueAt(last, scale)).toBe(scale.max)
      for (let i = 0; i <= last; i++) {
        expect(positionOf(valueAt(i, scale), scale)).toBe(i)
        if (i > 0) expect(valueAt(i, scale)).toBeGreaterThan(valueAt(i - 1, scale))
      }
    },
  )

  it('has values without the noise of binary fractions', () => {
    for (let i = 0; i <= 399; i++) expect(String(valueAt(i, { min: 0.1, max: 40, step: 0.1 })).length).toBeLessThan(5)
  })

  it('stands at its end for values beyond it', () => {
    expect(positionOf(900, { min: 0, max: 100, step: 0.5 })).toBe(200)
  })

  it('can show every number of the default recipe', () => {
    for (const field of fieldsOf(DEFAULT_RECIPE))
      if (field.kind === 'number') expect(valueAt(positionOf(field.value, field.scale), field.scale)).toBe(field.value)
  })
})

describe('typed numbers', () => {
  it('takes a comma and a true minus, and nothing that is no number', () => {
    expect(['2,5', ' 3 ', '\u22121', '1e3'].map(parseTyped)).toEqual([2.5, 3, -1, 1000])
    expect(['', '3 %', '1,5,2', 'Infinity', 'NaN'].map(parseTyped)).toEqual([null, null, null, null, null])
  })

  it('reads what it writes', () => {
    fc.assert(
      fc.property(fc.double({ min: 1e-6, max: 1e7, noNaN: true }), (value) => {
        expect(parseTyped(typedText(value))).toBeCloseTo(value, 0)
        expect(Math.abs((parseTyped(typedText(value)) ?? 0) / value - 1)).toBeLessThan(1e-6)
      }),
    )
  })
})
