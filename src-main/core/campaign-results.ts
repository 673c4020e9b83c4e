import type { MeasureId } from '#shared/domain/measures.ts'
import { campaignResults, type CampaignResults } from '#shared/findings/campaign-results.ts'
import { SUMMARY_MEASURES } from '#shared/findings/summary.ts'
import type { Store } from './ports.ts'
import type { RecipeBook } from './recipes.ts'

/** Rejects with `not-found` for an unknown campaign or recipe. */
export async function campaignResultsOf(
  store: Store,
  recipes: Pick<RecipeBook, 'get'>,
  request: { readonly campaignId: number; readonly recipeHash: string; readonly measures: readonly MeasureId[] },
): Promise<CampaignResults> {
  const { recipeHash, measures } = request
  const recipe = recipes.get(recipeHash)
  const stored = await store.campaignMatrices({
    ...request,
    measures: [...new Set([...measures, ...SUMMARY_MEASURES])],
  })
  return campaignResults(stored, { hash: recipeHash, recipe }, measures)
}
