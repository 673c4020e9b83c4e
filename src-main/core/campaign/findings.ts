/** What a campaign holds under one recipe, ready for findings, reports and bundles. */
import type { Campaign, Sweep } from '#shared/domain/capture.ts'
import type { Recipe } from '#shared/domain/recipe.ts'
import type { MatrixData } from '#shared/domain/views.ts'
import { ALGORITHM } from '#shared/domain/result.ts'
import type { DisplayData } from '#shared/findings/campaign/displays.ts'
import type { LibraryCampaign } from '#shared/findings/campaign/library.ts'
import type { MeasuredPoint } from '#shared/findings/campaign/figures.ts'
import { measuredPoint, POINT_MEASURES } from '#shared/findings/campaign/points.ts'
import type { Reading } from '#shared/domain/reading.ts'
import { DEFAULT_CHOICE, displayRecord, newestLadder, recordValues, type DisplayRecord } from '#shared/record/record.ts'
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

/** Every campaign of an archive under a recipe, as displays to be set side by side. */
export async function campaignsOf(
  store: Pick<Store, 'campaigns' | 'campaignMatrices' | 'readings' | 'unmeasured'>,
  recipeHash: string,
  recipe: Recipe,
): Promise<LibraryCampaign[]> {
  const found: LibraryCampaign[] = []
  for (const { id, name, display, origin } of await store.campaigns()) {
    const { sweeps } = await campaignContent(store, id, recipeHash, recipe)
    const data: DisplayData = {
      name: display === '' ? name : display,
      invented: origin === 'simulated',
      recipeHash,
      algorithm: ALGORITHM,
      levels: [...new Set(sweeps.flatMap(({ matrix }) => matrix.levels))].sort((a, b) => a - b),
      rigs: [...new Set(sweeps.map(({ sweep }) => sweep.rigIdentity))].sort(),
      points: sweeps.map(({ point }) => point),
      record: recordValues(
        recordOf(
          await store.readings({ campaignId: id }),
          sweeps.map(({ sweep }) => sweep),
        ),
      ),
    }
    const unmeasured = (await store.unmeasured(recipeHash, { campaignId: id })).length
    found.push({ id, name, display, origin, unmeasured, data: sweeps.length === 0 ? null : data })
  }
  return found
}

/** The record as findings, reports and bundles take it: with the usual choices and the ladder of the newest sweep. */
export const recordOf = (
  readings: readonly Reading[],
  sweeps: readonly Pick<Sweep, 'id' | 'ladder'>[],
): DisplayRecord => displayRecord(readings, newestLadder([...sweeps].sort((a, b) => a.id - b.id)), DEFAULT_CHOICE)
