import type { z } from 'zod'
import type { recipeSchema } from '#shared/domain/recipe.ts'

/** A recipe as it is written, before its defaults are filled in. */
export type RecipeInput = z.input<typeof recipeSchema>
