import { describe, expect, it } from 'vitest'
import { AppError } from '#shared/domain/errors.ts'
import { canonicalJson, RECIPE_PRESETS, recipeHash, recipeSchema, type Recipe } from '#shared/domain/recipe.ts'
import { recipeFileName, recipeFileText, recipeFromText } from '#shared/domain/recipe-file.ts'

function problemOf(text: string): string {
  try {
    recipeFromText(text, 'mine.json')
  } catch (error) {
    if (error instanceof AppError) return `${error.code}: ${error.message}`
  }
  return 'none'
}

describe('recipe files', () => {
  it.each(RECIPE_PRESETS)('holds $name and gives it back', (recipe) => {
    expect(recipeFromText(recipeFileText(recipe), 'a.json')).toEqual(recipe)
  })

  it('puts one parameter on a line, in one order whatever order they come in', () => {
    const [recipe] = RECIPE_PRESETS as [Recipe]
    const stored = JSON.parse(canonicalJson(recipe)) as Recipe
    expect(Object.keys(stored)).not.toEqual(Object.keys(recipeSchema.shape))
    const text = recipeFileText(stored)
    expect(text).toBe(recipeFileText(recipe))
    expect(Object.keys(JSON.parse(text) as object)).toEqual(Object.keys(recipeSchema.shape))
    const changed = recipeFileText({ ...stored, darkCode: 50 }).split('\n')
    expect(text.split('\n').filter((line, i) => line !== changed[i])).toEqual(['  "darkCode": 102,'])
    expect(text.endsWith('}\n')).toBe(true)
  })

  it('fills in what is left out, and reads a byte order mark over', () => {
    const recipe = recipeFromText('\uFEFF{"name":"Short","darkCode":40}', 'a.json')
    expect(recipeHash(recipe)).toBe(recipeHash(recipeSchema.parse({ name: 'Other', darkCode: 40 })))
  })

  it('says what is wrong with a file that holds none', () => {
    expect(problemOf('')).toMatch(/^import-unreadable: mine\.json is not valid JSON: /)
    expect(problemOf('[]')).toMatch(/^import-unreadable: mine\.json is not a recipe: /)
    expect(problemOf('{"name":"x","darkCode":900}')).toMatch(/darkCode: .*255/)
    expect(problemOf('{"name":"x","colour":1}')).toMatch(/colour/)
    expect(problemOf('{"name":""}')).toMatch(/name: /)
  })

  it('is named after the recipe, in letters every file system takes', () => {
    expect(recipeFileName({ name: '10–90 % of luminance' })).toBe('10-90-of-luminance.json')
    expect(recipeFileName({ name: '…/../' })).toBe('recipe.json')
  })
})
