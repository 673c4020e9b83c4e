/** Recipes as JSON files: what the command line prints and takes, and the screens export and import. */
import { AppError } from './errors.ts'
import { fileProblems } from './file-problems.ts'
import { recipeSchema, type Recipe } from './recipe.ts'

/** The file of a recipe: keys in the schema's order, one a line, so that two of them can be compared line by line. */
export function recipeFileText(recipe: Recipe): string {
  return `${JSON.stringify(recipeSchema.parse(recipe), null, 2)}\n`
}

/** A file name made of the recipe's own: letters, digits and dashes. */
export function recipeFileName(recipe: Pick<Recipe, 'name'>): string {
  const plain = recipe.name
    .normalize('NFKD')
    .toLowerCase()
    .replace(/[^a-z0-9]+/g, '-')
    .replace(/^-+|-+$/g, '')
  return `${plain === '' ? 'recipe' : plain}.json`
}

/** A recipe out of a file's text; what is left out has its default. Throws `import-unreadable` saying what is wrong. */
export function recipeFromText(text: string, fileName: string): Recipe {
  let value: unknown
  try {
    value = JSON.parse(text.replace(/^\uFEFF/, ''))
  } catch (error) {
    const why = error instanceof Error ? error.message : String(error)
    throw new AppError('import-unreadable', `${fileName} is not valid JSON: ${why}.`, 'Correct the file.')
  }
  const parsed = recipeSchema.safeParse(value)
  if (parsed.success) return parsed.data
  throw new AppError(
    'import-unreadable',
    `${fileName} is not a recipe: ${fileProblems(parsed.error)}`,
    'Export a recipe, or print one by `slewlight recipes show <name>`, as an example.',
  )
}
