import { describe, expect, it } from 'vitest'
import { RECIPE_PRESETS, recipeSchema } from '#shared/domain/recipe.ts'
import { recipeRows } from '#shared/report/recipe-rows.ts'

describe('the recipe in a report', () => {
  it.each(RECIPE_PRESETS)('“$name” is told in words: every parameter, no program text', (recipe) => {
    const parameters = Object.keys(recipe).filter((key) => !['name', 'note', 'follows'].includes(key))
    const rows = recipeRows(recipe)
    // The duration of the start and end bands and so on: one row a parameter.
    expect(rows).toHaveLength(parameters.length)
    for (const [parameter, value] of rows) expect(`${parameter} ${value}`).not.toMatch(/[{}_"]|undefined|null/)
  })

  it('names numbers with their units', () => {
    const recipe = recipeSchema.parse({
      name: 'x',
      condition: { kind: 'one-period-mean', frequencyHz: null, periods: 2 },
      errorSpanS: 0.05,
      detectorS: 0.00002,
      endBand: { kind: 'codes', codes: 10 },
    })
    expect(Object.fromEntries(recipeRows(recipe))).toMatchObject({
      'Transition duration': 'from 10 % to 90 % of the step',
      'End band (arrival, settling)': '± 10 codes',
      'Ripple and noise': 'running mean over 2 periods at its detected frequency',
      'Integrated error, from onset': '50 ms',
      'Detector’s own 10–90 % time': '0.02 ms',
    })
  })
})
