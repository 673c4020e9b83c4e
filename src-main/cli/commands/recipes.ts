import type { Command } from 'commander'
import { AppError } from '#shared/domain/errors.ts'
import { recipeFileText } from '#shared/domain/recipe-file.ts'
import type { Store } from '#main/core/ports.ts'
import { chooseRecipe, recipeFromFile, type KnownRecipe } from '../choose-recipe.ts'
import { oneOf } from '../options.ts'
import { textTable, type Output } from '../output.ts'

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

/** What is known of recipes; `text` names the one to show. */
export async function showRecipes(
  action: Exclude<RecipeAction, 'add'>,
  text: string | undefined,
  recipes: readonly KnownRecipe[],
  output: Output,
): Promise<void> {
  if (action === 'list') {
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
  const chosen = await chooseRecipe(needed(text, action, 'a name, hash or JSON file'), recipes)
  // Printed as the file `add` takes, so that one is the example of the other.
  output.result({ hash: chosen.hash, name: chosen.recipe.name, parameters: chosen.recipe }, () =>
    recipeFileText(chosen.recipe).trimEnd(),
  )
}

export async function addRecipe(text: string | undefined, store: Store, output: Output): Promise<void> {
  const chosen = await recipeFromFile(needed(text, 'add', 'a JSON file'))
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

function needed(text: string | undefined, action: RecipeAction, what: string): string {
  if (text !== undefined) return text
  throw new AppError('invalid-input', `Which recipe? \`recipes ${action}\` needs ${what}.`, 'See --help.')
}
