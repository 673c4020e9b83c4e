import { describe, expect, it } from 'vitest'
import { DEFAULT_RECIPE, RECIPE_PRESETS, recipeHash, recipeSchema, type Recipe } from '#shared/domain/recipe.ts'
import { RINGING } from '../../src-renderer/features/recipes/condition-fields.ts'
import type { ChoiceField, Field, NumberField } from '../../src-renderer/features/recipes/field.ts'
import { changesFrom, fieldsOf, withField } from '../../src-renderer/features/recipes/parameters.ts'

/** Every recipe that choices and switches lead to, two steps deep: together they show every field there is. */
function reachable(recipe: Recipe, depth: number): Recipe[] {
  if (depth === 0) return [recipe]
  const next = fieldsOf(recipe).flatMap((field) => {
    if (field.kind === 'choice') return field.choices.map(({ id }) => field.set(id))
    return field.kind === 'switch' ? [field.set(!field.value)] : []
  })
  return [recipe, ...next.flatMap((one) => reachable(one, depth - 1))]
}

const RECIPES = [...new Map(reachable(DEFAULT_RECIPE, 2).map((recipe) => [recipeHash(recipe), recipe])).values()]
const isValid = (recipe: Recipe): boolean => recipeSchema.safeParse(recipe).success
const numbersOf = (recipe: Recipe): NumberField[] =>
  fieldsOf(recipe).filter((field): field is NumberField => field.kind === 'number')
const fieldOf = (recipe: Recipe, id: string): Field => {
  const field = fieldsOf(recipe).find((one) => one.id === id)
  if (field === undefined) throw new Error(`No field ${id}.`)
  return field
}

describe('parameters of a recipe', () => {
  it('lead to recipes the schema takes, whatever is chosen', () => {
    expect(RECIPES.length).toBeGreaterThan(50)
    for (const recipe of RECIPES) expect(recipeSchema.parse(recipe)).toEqual(recipe)
  })

  it('have the bounds of the schema, no wider and no narrower', () => {
    const seen = new Set<string>()
    for (const recipe of RECIPES)
      for (const field of numbersOf(recipe)) {
        seen.add(field.id)
        const beyond = field.whole ? 1 : Math.max(1e-6, field.max * 1e-6)
        expect([field.id, isValid(field.set(field.min)), isValid(field.set(field.max))]).toEqual([field.id, true, true])
        expect([field.id, isValid(field.set(field.max + beyond))]).toEqual([field.id, false])
        expect([field.id, isValid(field.set(field.min - (field.whole ? 1 : field.min * 1e-3 || 1e-6)))]).toEqual([
          field.id,
          false,
        ])
      }
    expect([...seen].sort()).toEqual([
      'condition.cutoffHz',
      'condition.frequencyHz',
      'condition.order',
      'condition.periods',
      'condition.points',
      'darkCode',
      'detector.us',
      'duration.codes',
      'duration.lightness',
      'duration.percent',
      'endBand.codes',
      'endBand.lightness',
      'endBand.percent',
      'errorSpan.ms',
      'inWindow.tolerancePct',
      'levels.afterShare',
      'levels.beforeShare',
      'levels.bins',
      'overshootLimitPct',
      'startBand.codes',
      'startBand.lightness',
      'startBand.percent',
    ])
  })

  it('cover every parameter of the schema: any other recipe differs in some field', () => {
    for (const recipe of RECIPES)
      if (recipeHash(recipe) !== recipeHash(DEFAULT_RECIPE))
        expect(changesFrom(DEFAULT_RECIPE, recipe).length).toBeGreaterThan(0)
    for (const preset of RECIPE_PRESETS) expect(changesFrom(preset, preset)).toEqual([])
  })

  it('give back the number they are set to, and keep it through a change of unit', () => {
    for (const recipe of RECIPES)
      for (const field of numbersOf(recipe))
        for (const value of [field.min, field.max]) {
          const read = fieldOf(field.set(value), field.id)
          expect(read.kind === 'number' && read.value).toBe(value)
        }
  })

  it('change by name, and not where there is no such field or the value is of another kind', () => {
    for (const recipe of RECIPES.slice(0, 40))
      for (const field of fieldsOf(recipe)) {
        if (field.kind === 'number') expect(withField(recipe, field.id, field.max)).toEqual(field.set(field.max))
        if (field.kind === 'switch') expect(withField(recipe, field.id, !field.value)).toEqual(field.set(!field.value))
        expect(withField(recipe, field.id, field.kind === 'choice' ? 1 : 'text')).toBe(recipe)
      }
    expect(withField(DEFAULT_RECIPE, 'condition.cutoffHz', 100)).toBe(DEFAULT_RECIPE)
  })

  it('are told apart by their names: one name has one set of bounds and choices', () => {
    const looks = new Map<string, string>()
    for (const recipe of RECIPES)
      for (const field of fieldsOf(recipe)) {
        const { value: _value, hint: _hint, ...rest } = field
        const look = JSON.stringify(rest)
        expect(looks.get(field.id) ?? look).toBe(look)
        looks.set(field.id, look)
      }
  })

  it('warn of the filters that ring, and of no other', () => {
    const low = (fieldOf(DEFAULT_RECIPE, 'condition.kind') as ChoiceField).set('low-pass')
    const warned = [DEFAULT_RECIPE, low].flatMap((recipe) =>
      fieldsOf(recipe).flatMap((field) =>
        field.kind === 'choice' ? field.choices.filter(({ warning }) => warning === RINGING) : [],
      ),
    )
    expect([...new Set(warned.map(({ id }) => id))].sort()).toEqual([
      'butterworth-2',
      'butterworth-4',
      'savitzky-golay',
    ])
  })

  it('name what changed, with units', () => {
    const band = fieldOf(DEFAULT_RECIPE, 'endBand.percent') as NumberField
    expect(changesFrom(DEFAULT_RECIPE, band.set(1.5))).toEqual(['End band, half width: ±1.5 % of the step'])
  })
})
