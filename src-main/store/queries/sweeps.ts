import type { Ladder, Origin, Sweep, SweepState } from '#shared/domain/capture.ts'
import { AppError } from '#shared/domain/errors.ts'
import type { SweepPlan } from '#shared/domain/plan.ts'
import type { Archive } from '../archive.ts'
import { SUPERSEDED } from './captures.ts'

interface SweepRow {
  id: number
  campaign_id: number
  run_id: number | null
  name: string
  setting: string
  refresh_hz: number
  plan: string
  state: SweepState
  reason: string
  origin: Origin
  created_at: string
  rig_identity: string
  total: number
  ladder: string | null
  hidden: 0 | 1
  done: number
  missing: number
}

// Rounds above 0 exist only where a good capture of the round before was sent back, so the good captures of round 0
// count the positions that ever had one; those whose newest good capture is sent back are open again. Attempts in vain
// make a position missing only while it is open: not once the capture before them was taken back from the retakes.
const SWEEP_SQL = (scope: string): string => `
SELECT w.id, w.campaign_id, w.run_id, w.name, w.setting, w.refresh_hz, w.plan, w.state, w.reason, w.origin, w.created_at,
  w.rig_identity, w.total, w.ladder, w.hidden,
  (SELECT count(*) FROM capture c WHERE c.sweep_id = w.id AND c.verdict = 'good' AND c.round = 0) -
  (SELECT count(*) FROM standing s JOIN capture c ON c.id = s.capture_id
    WHERE s.decision = 'retake' AND c.sweep_id = w.id AND c.verdict = 'good' AND NOT ${SUPERSEDED}) AS done,
  (SELECT count(*) FROM (
    SELECT b.position, b.round FROM capture b WHERE b.sweep_id = w.id AND b.verdict <> 'good'
    GROUP BY b.position, b.round
    HAVING count(*) >= w.max_attempts AND NOT EXISTS (
      SELECT 1 FROM capture g LEFT JOIN standing s ON s.capture_id = g.id
      WHERE g.sweep_id = w.id AND g.position = b.position AND g.verdict = 'good'
        AND (g.round >= b.round OR g.round = b.round - 1 AND coalesce(s.decision, '') <> 'retake')))) AS missing
FROM sweep w ${scope} ORDER BY w.id`
const ONE_SWEEP = SWEEP_SQL('WHERE w.id = ?')
const LISTED_SWEEPS = SWEEP_SQL(
  'WHERE (@campaign IS NULL OR w.campaign_id = @campaign) AND (@includeHidden = 1 OR w.hidden = 0)',
)

const sweepOf = (row: SweepRow): Sweep => ({
  id: row.id,
  campaignId: row.campaign_id,
  runId: row.run_id,
  name: row.name,
  setting: row.setting,
  refreshHz: row.refresh_hz,
  plan: JSON.parse(row.plan) as SweepPlan,
  state: row.state,
  reason: row.reason,
  origin: row.origin,
  createdAt: row.created_at,
  rigIdentity: row.rig_identity,
  ladder: row.ladder === null ? null : (JSON.parse(row.ladder) as Ladder),
  total: row.total,
  done: row.done,
  missing: row.missing,
  hidden: row.hidden === 1,
})

const ORIGIN_WORDS: Readonly<Record<Origin, string>> = {
  measured: 'measured on a display',
  simulated: 'made by a simulated rig',
  imported: 'imported from files',
}

/** One campaign holds data of one origin, so that invented and measured numbers never stand side by side. */
function refuseOtherOrigin(archive: Archive, campaignId: number, origin: Origin): void {
  const other = archive
    .sql('SELECT origin FROM sweep WHERE campaign_id = ? AND hidden = 0 AND origin <> ? LIMIT 1')
    .pluck()
    .get(campaignId, origin) as Origin | undefined
  if (other !== undefined)
    throw new AppError(
      'conflict',
      `This campaign holds data ${ORIGIN_WORDS[other]}; data ${ORIGIN_WORDS[origin]} cannot be added to it.`,
      'Choose another campaign or create a new one.',
    )
}

export interface NewSweep {
  readonly campaignId: number
  readonly plan: SweepPlan
  readonly origin: Origin
  readonly rigIdentity: string
  readonly total: number
  /** Left out of lists from the start. */
  readonly hidden?: boolean
  /** The run it belongs to and its place there, from 0. */
  readonly run?: { readonly id: number; readonly position: number }
}

/** Rejects with `conflict` where the campaign holds data of another origin. */
export function createSweep(archive: Archive, sweep: NewSweep): Sweep {
  const id = archive.write(() => {
    if (archive.sql('SELECT 1 FROM campaign WHERE id = ?').get(sweep.campaignId) === undefined)
      throw new AppError('not-found', `Campaign ${sweep.campaignId} is not in the archive.`)
    refuseOtherOrigin(archive, sweep.campaignId, sweep.origin)
    const { plan } = sweep
    return archive
      .sql(
        `INSERT INTO sweep (campaign_id, run_id, run_position, setting, refresh_hz, plan, state, reason, origin, created_at,
           rig_identity, total, max_attempts, hidden)
         VALUES (?, ?, ?, ?, ?, ?, 'ready', '', ?, ?, ?, ?, ?, ?)`,
      )
      .run(
        sweep.campaignId,
        sweep.run?.id ?? null,
        sweep.run?.position ?? null,
        plan.setting,
        plan.refreshHz,
        JSON.stringify(plan),
        sweep.origin,
        archive.at,
        sweep.rigIdentity,
        sweep.total,
        plan.maxAttempts,
        sweep.hidden === true ? 1 : 0,
      ).lastInsertRowid
  })
  return getSweep(archive, Number(id))
}

export function sweep(archive: Archive, { sweepId }: { readonly sweepId: number }): Sweep {
  return getSweep(archive, sweepId)
}

function getSweep(archive: Archive, id: number): Sweep {
  const row = archive.sql(ONE_SWEEP).get(id) as SweepRow | undefined
  if (row === undefined) throw new AppError('not-found', `Sweep ${id} is not in the archive.`)
  return sweepOf(row)
}

/** Sweeps in id order; hidden ones only when asked for. */
export function sweeps(
  archive: Archive,
  scope: { readonly campaignId?: number | undefined; readonly includeHidden?: boolean | undefined },
): Sweep[] {
  const rows = archive
    .sql(LISTED_SWEEPS)
    .all({ campaign: scope.campaignId ?? null, includeHidden: scope.includeHidden === true ? 1 : 0 })
  return (rows as SweepRow[]).map(sweepOf)
}

/**
 * Takes a sweep out of the lists or restores it. Nothing of it is deleted. Restoring rejects with `conflict` where the
 * campaign holds data of another origin by now.
 */
export function setSweepHidden(archive: Archive, id: number, hidden: boolean): Sweep {
  return archive.write(() => {
    const { campaignId, origin } = getSweep(archive, id)
    if (!hidden) refuseOtherOrigin(archive, campaignId, origin)
    archive.sql('UPDATE sweep SET hidden = ? WHERE id = ?').run(hidden ? 1 : 0, id)
    return getSweep(archive, id)
  })
}

/** An empty name takes it away. */
export function renameSweep(archive: Archive, request: { readonly sweepId: number; readonly name: string }): Sweep {
  archive.sql('UPDATE sweep SET name = ? WHERE id = ?').run(request.name, request.sweepId)
  return getSweep(archive, request.sweepId)
}

export function setSweepState(archive: Archive, id: number, state: SweepState, reason: string): Sweep {
  archive.sql('UPDATE sweep SET state = ?, reason = ? WHERE id = ?').run(state, reason, id)
  return getSweep(archive, id)
}

export function setLadder(archive: Archive, id: number, ladder: Ladder): null {
  const { changes } = archive.sql('UPDATE sweep SET ladder = ? WHERE id = ?').run(JSON.stringify(ladder), id)
  if (changes === 0) throw new AppError('not-found', `Sweep ${id} is not in the archive.`)
  return null
}
