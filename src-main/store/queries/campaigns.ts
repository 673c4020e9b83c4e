import type { Campaign, Origin, Sweep } from '#shared/domain/capture.ts'
import { AppError } from '#shared/domain/errors.ts'
import type { MeasureId } from '#shared/domain/measures.ts'
import type { MatrixData } from '#shared/domain/views.ts'
import type { MeasuredPoint } from '#shared/findings/campaign/figures.ts'
import { measuredPoint, POINT_MEASURES } from '#shared/findings/campaign/points.ts'
import type { Archive } from '../archive.ts'
import type { SweepFigures } from '../kept-points.ts'
import { matrix } from './matrix.ts'
import { sweeps } from './sweeps.ts'

interface CampaignRecord {
  id: number
  name: string
  display: string
  note: string
  created_at: string
  origin: Origin | null
}

// Archives of before origins were kept apart may hold several in one campaign: the one that promises least is told.
const CAMPAIGNS = `
SELECT c.id, c.name, c.display, c.note, c.created_at,
  (SELECT s.origin FROM sweep s WHERE s.campaign_id = c.id AND s.hidden = 0
   ORDER BY s.origin = 'simulated' DESC, s.origin = 'imported' DESC LIMIT 1) AS origin
FROM campaign c`

const campaignOf = ({ created_at: createdAt, ...row }: CampaignRecord): Campaign => ({ ...row, createdAt })

export function campaigns(archive: Archive): Campaign[] {
  return (archive.sql(`${CAMPAIGNS} ORDER BY c.id`).all() as CampaignRecord[]).map(campaignOf)
}

export function campaign(archive: Archive, { campaignId }: { readonly campaignId: number }): Campaign {
  const row = archive.sql(`${CAMPAIGNS} WHERE c.id = ?`).get(campaignId) as CampaignRecord | undefined
  if (row === undefined) throw new AppError('not-found', `Campaign ${campaignId} is not in the archive.`)
  return campaignOf(row)
}

export function createCampaign(
  archive: Archive,
  { name, display, note }: { readonly name: string; readonly display: string; readonly note: string },
): Campaign {
  const { lastInsertRowid } = archive
    .sql('INSERT INTO campaign (name, display, note, created_at) VALUES (?, ?, ?, ?)')
    .run(name, display, note, archive.at)
  return campaign(archive, { campaignId: Number(lastInsertRowid) })
}

/** Changes what is given and keeps the rest. */
export function updateCampaign(
  archive: Archive,
  change: {
    readonly campaignId: number
    readonly name?: string | undefined
    readonly display?: string | undefined
    readonly note?: string | undefined
  },
): Campaign {
  const { campaignId, name = null, display = null, note = null } = change
  archive
    .sql(
      'UPDATE campaign SET name = coalesce(?, name), display = coalesce(?, display), note = coalesce(?, note) WHERE id = ?',
    )
    .run(name, display, note, campaignId)
  return campaign(archive, { campaignId })
}

/** Every listed sweep of a campaign with its matrix under one recipe, in id order. */
export function campaignMatrices(
  archive: Archive,
  request: { readonly campaignId: number; readonly recipeHash: string; readonly measures: readonly MeasureId[] },
): { campaign: Campaign; sweeps: { sweep: Sweep; matrix: MatrixData }[] } {
  const { campaignId, recipeHash, measures } = request
  return {
    campaign: campaign(archive, { campaignId }),
    sweeps: sweeps(archive, { campaignId }).map((sweep) => ({
      sweep,
      matrix: matrix(archive, { sweepId: sweep.id, recipeHash, measures }),
    })),
  }
}

/** A listed sweep with its figures under a recipe. */
export interface SweepPoint extends Omit<SweepFigures, 'figures'> {
  readonly sweep: Sweep
  /** Null where no capture has a result. */
  readonly point: MeasuredPoint | null
}

/**
 * Every listed sweep of a campaign with its figures under one recipe, in id order. They are computed here, beside the
 * results, and again only after something of the sweep changed.
 */
export function campaignPoints(
  archive: Archive,
  request: { readonly campaignId: number; readonly recipeHash: string; readonly darkCode: number },
): SweepPoint[] {
  const { campaignId, recipeHash, darkCode } = request
  // One that is not there is an error, not a campaign without sweeps.
  campaign(archive, { campaignId })
  archive.points.refresh()
  return sweeps(archive, { campaignId }).map((sweep) => {
    const of = { sweepId: sweep.id, setting: sweep.setting, refreshHz: sweep.refreshHz }
    const { figures, ...rest } = archive.points.of(sweep.id, `${recipeHash} ${darkCode}`, () => {
      const data = matrix(archive, { sweepId: sweep.id, recipeHash, measures: POINT_MEASURES })
      const measured = data.cells.some(({ entries }) => entries.length > 0)
      return {
        levels: data.levels,
        unmeasured: data.unmeasured,
        figures: measured ? measuredPoint(of, data, { darkCode }).figures : null,
      }
    })
    return { sweep, ...rest, point: figures === null ? null : { ...of, figures } }
  })
}
