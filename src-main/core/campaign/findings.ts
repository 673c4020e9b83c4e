/** What a campaign holds under one recipe, ready for findings, reports and bundles. */
import type { Campaign, Sweep } from '#shared/domain/capture.ts'
import type { Recipe } from '#shared/domain/recipe.ts'
import type { MatrixData } from '#shared/domain/views.ts'
import type { MeasuredPoint } from '#shared/findings/campaign/figures.ts'
import { measuredPoint, POINT_MEASURES } from '#shared/findings/campaign/points.ts'
import type { Store } from '../ports.ts'

export interface CampaignSweep {
  readonly sweep: Sweep
  readonly matrix: MatrixData
  readonly point: MeasuredPoint
}

export interface CampaignContent {
  readonly campaign: Campaign
  /** One sweep a setting and refresh rate, in the order settings were first measured, rates ascending. */
  readonly sweeps: readonly CampaignSweep[]
  /** Sweeps that do not enter, and why. */
  readonly leftOut: readonly { readonly sweepId: number; readonly reason: string }[]
}

/**
 * Reads a campaign. Of several sweeps at the same setting and refresh rate the newest with results counts; sweeps
 * without any result are left out and named.
 */
export async function campaignContent(
  store: Pick<Store, 'campaignMatrices'>,
  campaignId: number,
  recipeHash: string,
  recipe: Recipe,
): Promise<CampaignContent> {
  const { campaign, sweeps } = await store.campaignMatrices({ campaignId, recipeHash, measures: [...POINT_MEASURES] })
  const leftOut: { sweepId: number; reason: string }[] = []
  const newest = new Map<string, { sweep: Sweep; matrix: MatrixData }>()
  for (const entry of sweeps) {
    const { sweep, matrix } = entry
    if (!matrix.cells.some(({ entries }) => entries.length > 0)) {
      leftOut.push({
        sweepId: sweep.id,
        reason: matrix.unmeasured > 0 ? 'It is not measured under this recipe.' : 'It has no captures.',
      })
      continue
    }
    const key = `${sweep.refreshHz} ${sweep.setting}`
    const before = newest.get(key)
    if (before !== undefined)
      leftOut.push({
        sweepId: before.sweep.id,
        reason: `Sweep ${sweep.id} is newer at the same setting and refresh rate.`,
      })
    newest.set(key, entry)
  }
  const settings = [...new Set([...newest.values()].map(({ sweep }) => sweep.setting))]
  const ordered = [...newest.values()].sort(
    (a, b) =>
      settings.indexOf(a.sweep.setting) - settings.indexOf(b.sweep.setting) || a.sweep.refreshHz - b.sweep.refreshHz,
  )
  return {
    campaign,
    leftOut,
    sweeps: ordered.map(({ sweep, matrix }) => ({
      sweep,
      matrix,
      point: measuredPoint({ sweepId: sweep.id, setting: sweep.setting, refreshHz: sweep.refreshHz }, matrix, recipe),
    })),
  }
}
