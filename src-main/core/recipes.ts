import { AppError } from '#shared/domain/errors.ts'
import { DEFAULT_RECIPE, RECIPE_PRESETS, recipeHash, type Recipe } from '#shared/domain/recipe.ts'
import type { Store } from './ports.ts'

/** Recipes of the archive, and the one that all screens use. */
export interface RecipeBook {
  current(): Recipe
  currentHash(): string
  get(hash: string): Recipe
  list(): { hash: string; recipe: Recipe }[]
  save(recipe: Recipe): Promise<{ hash: string }>
  use(hash: string): Recipe
}

export async function openRecipeBook(store: Store): Promise<RecipeBook> {
  for (const preset of RECIPE_PRESETS) await store.saveRecipe(preset)
  const known = new Map((await store.recipes()).map(({ hash, recipe }) => [hash, recipe]))
  let current = recipeHash(DEFAULT_RECIPE)
  function get(hash: string): Recipe {
    const recipe = known.get(hash)
    if (!recipe)
      throw new AppError('not-found', `No recipe has the hash ${hash}.`, 'Choose one from the list of recipes.')
    return recipe
  }
  return {
    current: () => get(current),
    currentHash: () => current,
    get,
    list: () => [...known].map(([hash, recipe]) => ({ hash, recipe })),
    async save(recipe) {
      const saved = await store.saveRecipe(recipe)
      if (!known.has(saved.hash)) known.set(saved.hash, recipe)
      return saved
    },
    use(hash) {
      const recipe = get(hash)
      current = hash
      return recipe
    },
  }
}
