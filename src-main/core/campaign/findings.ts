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

/** Sweeps that do not enter, and why. */
type LeftOut = readonly { readonly sweepId: number; readonly reason: string }[]

export interface CampaignContent {
  readonly campaign: Campaign
  /** One sweep a setting and refresh rate, in the order settings were first measured, rates ascending. */
  readonly sweeps: readonly CampaignSweep[]
  readonly leftOut: LeftOut
}

/**
 * Of several sweeps at the same setting and refresh rate the newest with results counts; sweeps without any result are
 * left out and named.
 */
function counted<T extends { readonly sweep: Sweep; readonly unmeasured: number }>(
  all: readonly T[],
  hasResults: (entry: T) => boolean,
): { entries: T[]; leftOut: LeftOut } {
  const leftOut: { sweepId: number; reason: string }[] = []
  const newest = new Map<string, T>()
  for (const entry of all) {
    const { sweep, unmeasured } = entry
    if (!hasResults(entry)) {
      leftOut.push({
        sweepId: sweep.id,
        reason: unmeasured > 0 ? 'It is not measured under this recipe.' : 'It has no captures.',
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
  const entries = [...newest.values()].sort(
    (a, b) =>
      settings.indexOf(a.sweep.setting) - settings.indexOf(b.sweep.setting) || a.sweep.refreshHz - b.sweep.refreshHz,
  )
  return { entries, leftOut }
}

/** Reads a campaign with every capture's numbers; where the figures do, `campaignFigures` is much quicker. */
export async function campaignContent(
  store: Pick<Store, 'campaignMatrices'>,
  campaignId: number,
  recipeHash: string,
  recipe: Recipe,
): Promise<CampaignContent> {
  const { campaign, sweeps } = await store.campaignMatrices({ campaignId, recipeHash, measures: [...POINT_MEASURES] })
  const { entries, leftOut } = counted(
    sweeps.map((entry) => ({ ...entry, unmeasured: entry.matrix.unmeasured })),
    ({ matrix }) => matrix.cells.some((cell) => cell.entries.length > 0),
  )
  return {
    campaign,
    leftOut,
    sweeps: entries.map(({ sweep, matrix }) => ({
      sweep,
      matrix,
      point: measuredPoint({ sweepId: sweep.id, setting: sweep.setting, refreshHz: sweep.refreshHz }, matrix, recipe),
    })),
  }
}

export interface FiguresSweep {
  readonly sweep: Sweep
  readonly levels: readonly number[]
  readonly point: MeasuredPoint
}

/** The same sweeps with their figures alone. */
export async function campaignFigures(
  store: Pick<Store, 'campaignPoints'>,
  campaignId: number,
  recipeHash: string,
  { darkCode }: Pick<Recipe, 'darkCode'>,
): Promise<{ readonly sweeps: readonly FiguresSweep[]; readonly leftOut: LeftOut }> {
  const sweeps = await store.campaignPoints({ campaignId, recipeHash, darkCode })
  const { entries, leftOut } = counted(sweeps, ({ point }) => point !== null)
  return {
    leftOut,
    sweeps: entries.flatMap(({ sweep, levels, point }) => (point === null ? [] : [{ sweep, levels, point }])),
  }
}

/** Every campaign of an archive under a recipe, as displays to be set side by side. */
export async function campaignsOf(
  store: Pick<Store, 'campaigns' | 'campaignPoints' | 'readings' | 'unmeasured'>,
  recipeHash: string,
  recipe: Recipe,
): Promise<LibraryCampaign[]> {
  const found: LibraryCampaign[] = []
  for (const { id, name, display, origin } of await store.campaigns()) {
    const { sweeps } = await campaignFigures(store, id, recipeHash, recipe)
    const data: DisplayData = {
      name: display === '' ? name : display,
      invented: origin === 'simulated',
      recipeHash,
      algorithm: ALGORITHM,
      levels: [...new Set(sweeps.flatMap((sweep) => sweep.levels))].sort((a, b) => a - b),
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
