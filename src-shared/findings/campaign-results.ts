import type { Campaign, Sweep } from '#shared/domain/capture.ts'
import type { MeasureId } from '#shared/domain/measures.ts'
import type { Recipe } from '#shared/domain/recipe.ts'
import type { MatrixData } from '#shared/domain/views.ts'
import { cellStatistics, repeatsExpected, type CellStatistics } from './matrix.ts'
import { summarise, type SweepSummary } from './summary.ts'

/** One sweep of a campaign under one recipe; setting, refresh rate, state and origin are those of `sweep`. */
export interface SweepResults {
  readonly sweep: Sweep
  /** Good captures without a result under the recipe yet. */
  readonly unmeasured: number
  /** Of each measure asked for. */
  readonly summaries: Readonly<Partial<Record<MeasureId, SweepSummary>>>
  /** Statistics of every transition, in reading order, of each measure asked for. */
  readonly cells: Readonly<Partial<Record<MeasureId, readonly CellStatistics[]>>>
}

export interface CampaignResults {
  readonly campaign: Campaign
  readonly recipeHash: string
  readonly sweeps: readonly SweepResults[]
}

/** Statistics and summaries of every sweep. */
export function campaignResults(
  stored: { readonly campaign: Campaign; readonly sweeps: readonly { sweep: Sweep; matrix: MatrixData }[] },
  recipe: { readonly hash: string; readonly recipe: Recipe },
  measures: readonly MeasureId[],
): CampaignResults {
  return {
    campaign: stored.campaign,
    recipeHash: recipe.hash,
    sweeps: stored.sweeps.map(({ sweep, matrix }) => {
      const repeats = repeatsExpected(sweep)
      return {
        sweep,
        unmeasured: matrix.unmeasured,
        summaries: Object.fromEntries(
          measures.map((measure) => [measure, summarise(matrix, recipe.recipe, { measure, repeats })]),
        ),
        cells: Object.fromEntries(measures.map((id) => [id, cellStatistics(matrix, id, repeats)])),
      }
    }),
  }
}
