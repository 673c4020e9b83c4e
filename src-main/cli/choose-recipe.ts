import { AppError } from '#shared/domain/errors.ts'
import { RECIPE_PRESETS, recipeHash, type Recipe } from '#shared/domain/recipe.ts'
import { recipeFromText } from '#shared/domain/recipe-file.ts'
import { readInputFile } from './input-file.ts'

export interface KnownRecipe {
  readonly hash: string
  readonly recipe: Recipe
}

export const PRESETS: readonly KnownRecipe[] = RECIPE_PRESETS.map((recipe) => ({ hash: recipeHash(recipe), recipe }))

/** Names are compared by their letters and digits, so that dashes and spaces need not be typed as they are. */
const plain = (text: string): string =>
  text
    .normalize('NFKD')
    .toLowerCase()
    .replace(/[^a-z0-9]/g, '')

/**
 * The recipe that `text` means: a name or an unambiguous part of one, a hash or its first digits, or a JSON file.
 * Rejects with `not-found` listing the recipes, or `import-unreadable` for a file that holds none.
 */
export async function chooseRecipe(text: string, known: readonly KnownRecipe[] = PRESETS): Promise<KnownRecipe> {
  if (/\.json$/i.test(text)) return recipeFromFile(text)
  const byHash = /^[0-9a-f]{4,16}$/.test(text) ? known.filter(({ hash }) => hash.startsWith(text)) : []
  const wanted = plain(text)
  const exact = known.filter(({ recipe }) => recipe.name === text || plain(recipe.name) === wanted)
  const partly = wanted === '' ? [] : known.filter(({ recipe }) => plain(recipe.name).includes(wanted))
  for (const found of [byHash, exact, partly]) if (found.length === 1 && found[0]) return found[0]
  const list = known.map(({ hash, recipe }) => `${hash}  ${recipe.name}`).join('\n')
  throw new AppError(
    'not-found',
    partly.length > 1 || byHash.length > 1
      ? `“${text}” fits ${Math.max(partly.length, byHash.length)} recipes.`
      : `No recipe is called “${text}”.`,
    `Give a name, a hash or a JSON file. The recipes are:\n${list}`,
  )
}

const MAX_RECIPE_BYTES = 2 ** 20

/** A recipe out of a JSON file; anything that is left out has its default. */
export async function recipeFromFile(path: string): Promise<KnownRecipe> {
  const text = (await readInputFile(path, MAX_RECIPE_BYTES)).toString('utf8')
  const recipe = recipeFromText(text, path)
  return { hash: recipeHash(recipe), recipe }
}
