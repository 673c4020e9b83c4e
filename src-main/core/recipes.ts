import { AppError } from '#shared/domain/errors.ts'
import { DEFAULT_RECIPE, RECIPE_PRESETS, recipeHash, type Recipe } from '#shared/domain/recipe.ts'
import type { Store } from './ports.ts'

/** Recipes of the archive, and the one that all screens use. */
export interface RecipeBook {
  current(): Recipe
  currentHash(): string
  /** The recipe in use before this one, to switch back to; null when there was none. */
  hashBefore(): string | null
  get(hash: string): Recipe
  list(): { hash: string; recipe: Recipe }[]
  /** `added` is false when the archive has these parameters already; the recipe then keeps its first name. */
  save(recipe: Recipe): Promise<{ hash: string; name: string; added: boolean }>
  /** `remember` keeps the choice in the archive, for the next start. */
  use(hash: string, remember: boolean): Promise<Recipe>
}

export async function openRecipeBook(store: Store): Promise<RecipeBook> {
  for (const preset of RECIPE_PRESETS) await store.saveRecipe(preset)
  const known = new Map((await store.recipes()).map(({ hash, recipe }) => [hash, recipe]))
  const chosen = await store.recipesInUse()
  const isKnown = (hash: string | null): hash is string => hash !== null && known.has(hash)
  let current = isKnown(chosen.current) ? chosen.current : recipeHash(DEFAULT_RECIPE)
  let before = isKnown(chosen.before) ? chosen.before : null
  function get(hash: string): Recipe {
    const recipe = known.get(hash)
    if (!recipe)
      throw new AppError('not-found', `No recipe has the hash ${hash}.`, 'Choose one from the list of recipes.')
    return recipe
  }
  return {
    current: () => get(current),
    currentHash: () => current,
    hashBefore: () => before,
    get,
    list: () => [...known].map(([hash, recipe]) => ({ hash, recipe })),
    async save(recipe) {
      const { hash } = await store.saveRecipe(recipe)
      const first = known.get(hash)
      if (first !== undefined) return { hash, name: first.name, added: false }
      known.set(hash, recipe)
      return { hash, name: recipe.name, added: true }
    },
    async use(hash, remember) {
      const recipe = get(hash)
      if (hash === current) return recipe
      if (remember) await store.setRecipesInUse({ current: hash, before: current })
      before = current
      current = hash
      return recipe
    },
  }
}
