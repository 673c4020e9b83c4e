import type { Command } from 'commander'
import { AppError } from '#shared/domain/errors.ts'
import { recipeFileText } from '#shared/domain/recipe-file.ts'
import type { Store } from '#main/core/ports.ts'
import { recipeFromFile, type KnownRecipe } from '../choose-recipe.ts'
import { oneOf } from '../options.ts'
import { textTable, type Output } from '../output.ts'
import { storedRecipe } from './show.ts'

export const RECIPE_ACTIONS = ['list', 'show', 'add'] as const
type RecipeAction = (typeof RECIPE_ACTIONS)[number]

export function describeRecipes(command: Command): Command {
  return command
    .description('list, show or add analysis recipes')
    .argument('<action>', 'list, show or add', oneOf(RECIPE_ACTIONS))
    .argument('[recipe]', 'show: name, hash or JSON file; add: JSON file')
    .addHelpText(
      'after',
      `
Examples:
  slewlight recipes list
  slewlight recipes show 10-90 > mine.json     (edit it, give it another name)
  slewlight recipes add mine.json

A recipe never changes: its hash covers every parameter, and adding the same parameters again adds nothing.`,
    )
}

export async function runRecipes(
  action: RecipeAction,
  text: string | undefined,
  store: Store,
  output: Output,
): Promise<void> {
  if (action === 'list') {
    const recipes = await store.recipes()
    output.result(
      recipes.map(({ hash, recipe }) => ({ hash, name: recipe.name, parameters: recipe })),
      () =>
        textTable(
          ['hash', 'name', 'follows'],
          recipes.map(({ hash, recipe }) => [hash, recipe.name, recipe.follows]),
        ),
    )
    return
  }
  if (text === undefined)
    throw new AppError(
      'invalid-input',
      `Which recipe? \`recipes ${action}\` needs ${action === 'add' ? 'a JSON file' : 'a name, hash or JSON file'}.`,
      'See --help.',
    )
  const chosen: KnownRecipe = action === 'add' ? await recipeFromFile(text) : await storedRecipe(store, text)
  if (action === 'show') {
    // Printed as the file `add` takes, so that one is the example of the other.
    output.result({ hash: chosen.hash, name: chosen.recipe.name, parameters: chosen.recipe }, () =>
      recipeFileText(chosen.recipe).trimEnd(),
    )
    return
  }
  const known = (await store.recipes()).find(({ hash }) => hash === chosen.hash)
  const { hash } = await store.saveRecipe(chosen.recipe)
  output.result(
    { hash, name: (known ?? chosen).recipe.name, added: known === undefined, parameters: (known ?? chosen).recipe },
    () =>
      known === undefined
        ? `${hash}  ${chosen.recipe.name} added.`
        : `${hash}  These parameters are in the archive already, as “${known.recipe.name}”.`,
  )
}
