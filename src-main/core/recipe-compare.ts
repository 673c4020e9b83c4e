import type { MeasureId } from '#shared/domain/measures.ts'
import { compareRecipes, type RecipeComparison } from '#shared/findings/compare.ts'
import { SUMMARY_MEASURES } from '#shared/findings/summary.ts'
import type { Store } from './ports.ts'
import type { RecipeBook } from './recipes.ts'

/**
 * The stored results of one sweep under two recipes. Captures measured under one only are counted in `unmeasured` and
 * enter no difference. Rejects with `not-found` for an unknown sweep or recipe.
 */
export async function compareUnderRecipes(
  store: Store,
  recipes: RecipeBook,
  input: { sweepId: number; oldHash: string; newHash: string; measures: readonly MeasureId[]; most: number },
): Promise<{ unmeasured: { old: number; new: number }; comparisons: RecipeComparison[] }> {
  const { sweepId, oldHash, newHash, measures, most } = input
  const [recipeA, recipeB] = [recipes.get(oldHash), recipes.get(newHash)]
  const wanted = [...new Set([...measures, ...SUMMARY_MEASURES])]
  const [sweep, a, b] = await Promise.all([
    store.sweep({ sweepId }),
    store.matrix({ sweepId, recipeHash: oldHash, measures: wanted }),
    store.matrix({ sweepId, recipeHash: newHash, measures: wanted }),
  ])
  return {
    unmeasured: { old: a.unmeasured, new: b.unmeasured },
    comparisons: measures.map((measure) =>
      compareRecipes(
        { data: a, recipe: recipeA },
        { data: b, recipe: recipeB },
        {
          measure,
          most,
          repeats: sweep.plan.repeats,
        },
      ),
    ),
  }
}
