/** Runs: sweeps worked through in one go. */
import { AppError } from '#shared/domain/errors.ts'
import type { CampaignPlan } from '#shared/domain/campaign-plan.ts'
import type { Run, RunState } from '#shared/domain/run.ts'
import type { Sweep } from '#shared/domain/capture.ts'
import type { Archive } from '../archive.ts'
import { createSweep, setSweepHidden, sweep } from './sweeps.ts'

interface RunRecord {
  id: number
  campaign_id: number
  plan: string
  state: RunState
  reason: string
  created_at: string
}

function runOf(archive: Archive, row: RunRecord): Run {
  return {
    id: row.id,
    campaignId: row.campaign_id,
    plan: JSON.parse(row.plan) as CampaignPlan,
    state: row.state,
    reason: row.reason,
    createdAt: row.created_at,
    sweepIds: archive
      .sql('SELECT id FROM sweep WHERE run_id = ? AND hidden = 0 ORDER BY run_position')
      .pluck()
      .all(row.id) as number[],
  }
}

export function run(archive: Archive, { runId }: { readonly runId: number }): Run {
  const row = archive.sql('SELECT * FROM run WHERE id = ?').get(runId) as RunRecord | undefined
  if (row === undefined) throw new AppError('not-found', `Run ${runId} is not in the archive.`)
  return runOf(archive, row)
}

/** Its sweeps are created after it, each with its place (`createSweep`). */
export function createRun(
  archive: Archive,
  request: { readonly campaignId: number; readonly plan: CampaignPlan },
): Run {
  if (archive.sql('SELECT 1 FROM campaign WHERE id = ?').get(request.campaignId) === undefined)
    throw new AppError('not-found', `Campaign ${request.campaignId} is not in the archive.`)
  const { lastInsertRowid } = archive
    .sql("INSERT INTO run (campaign_id, plan, state, reason, created_at) VALUES (?, ?, 'ready', '', ?)")
    .run(request.campaignId, JSON.stringify(request.plan), archive.at)
  return run(archive, { runId: Number(lastInsertRowid) })
}

/** Oldest first. */
export function runs(archive: Archive, { campaignId }: { readonly campaignId: number }): Run[] {
  const rows = archive.sql('SELECT * FROM run WHERE campaign_id = ? ORDER BY id').all(campaignId) as RunRecord[]
  return rows.map((row) => runOf(archive, row))
}

export function setRunState(
  archive: Archive,
  request: { readonly runId: number; readonly state: RunState; readonly reason: string },
): Run {
  archive.sql('UPDATE run SET state = ?, reason = ? WHERE id = ?').run(request.state, request.reason, request.runId)
  return run(archive, { runId: request.runId })
}

const positionOf = (archive: Archive, sweepId: number): { run_id: number; run_position: number } => {
  const row = archive.sql('SELECT run_id, run_position FROM sweep WHERE id = ? AND run_id IS NOT NULL').get(sweepId) as
    | { run_id: number; run_position: number }
    | undefined
  if (row === undefined) throw new AppError('not-found', `Sweep ${sweepId} is not part of a run.`)
  return row
}

/** A place behind all others of the run. */
const freePosition = (archive: Archive, runId: number): number =>
  archive.sql('SELECT max(run_position) + 1 FROM sweep WHERE run_id = ?').pluck().get(runId) as number

const moveTo = (archive: Archive, sweepId: number, position: number): void => {
  archive.sql('UPDATE sweep SET run_position = ? WHERE id = ?').run(position, sweepId)
}

/** A new sweep, with a walk of its own, takes the place of this one in its run; this one is hidden and kept. */
export function retakeSweep(
  archive: Archive,
  request: { readonly sweepId: number; readonly rigIdentity: string },
): Sweep {
  return archive.write(() => {
    const old = sweep(archive, request)
    const { run_id: runId, run_position: position } = positionOf(archive, old.id)
    const free = freePosition(archive, runId)
    moveTo(archive, old.id, free)
    setSweepHidden(archive, old.id, true)
    const { plan } = run(archive, { runId })
    return createSweep(archive, {
      campaignId: old.campaignId,
      plan: { ...old.plan, seed: (plan.sweep.seed + free) >>> 0 },
      origin: old.origin,
      rigIdentity: request.rigIdentity,
      total: old.total,
      run: { id: runId, position },
    })
  })
}

/** A hidden sweep takes its place in the run again; the one that stood there is hidden and kept. */
export function restoreSweep(archive: Archive, { sweepId }: { readonly sweepId: number }): Sweep {
  return archive.write(() => {
    const back = sweep(archive, { sweepId })
    const { run_id: runId, run_position: own } = positionOf(archive, sweepId)
    const standing = archive
      .sql(
        `SELECT id, run_position FROM sweep
         WHERE run_id = ? AND setting = ? AND refresh_hz = ? AND hidden = 0 AND id <> ?`,
      )
      .get(runId, back.setting, back.refreshHz, sweepId) as { id: number; run_position: number } | undefined
    if (standing !== undefined) {
      moveTo(archive, standing.id, freePosition(archive, runId))
      setSweepHidden(archive, standing.id, true)
      moveTo(archive, sweepId, standing.run_position)
      moveTo(archive, standing.id, own)
    }
    return setSweepHidden(archive, sweepId, false)
  })
}
