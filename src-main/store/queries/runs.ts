/** Runs: sweeps worked through in one go. */
import { AppError } from '#shared/domain/errors.ts'
import type { CampaignPlan } from '#shared/domain/campaign-plan.ts'
import type { Run, RunState } from '#shared/domain/run.ts'
import type { Archive } from '../archive.ts'

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
      .sql('SELECT id FROM sweep WHERE run_id = ? ORDER BY run_position')
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
