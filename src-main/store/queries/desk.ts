/** What the trace desk reads of single captures and of the retake queue. */
import type { Origin } from '#shared/domain/capture.ts'
import type { CaptureDetail, RetakeEntry } from '#shared/domain/desk.ts'
import { AppError } from '#shared/domain/errors.ts'
import type { ReviewDecision } from '#shared/domain/views.ts'
import type { Archive } from '../archive.ts'
import { getCapture, NEWER_GOOD, SUPERSEDED } from './captures.ts'
import { reviews, standingNote } from './decisions.ts'
import { getResult, ownResult } from './results.ts'

/** All the desk shows of a capture beside its trace. */
export function detail(
  archive: Archive,
  { captureId, recipeHash: hash }: { readonly captureId: number; readonly recipeHash: string },
): CaptureDetail {
  const info = getCapture(archive, captureId)
  const facts = archive
    .sql(
      `SELECT coalesce(s.override_id, 0) AS override_id,
         CASE WHEN ${SUPERSEDED} THEN (SELECT n.id ${NEWER_GOOD} ORDER BY n.round DESC LIMIT 1) END AS newer
       FROM capture c LEFT JOIN standing s ON s.capture_id = c.id WHERE c.id = ?`,
    )
    .get(captureId) as { override_id: number; newer: number | null }
  const result = getResult(archive, captureId, hash)
  const overridden = facts.override_id !== 0 && result !== null
  return {
    info,
    result,
    ownResult: overridden ? ownResult(archive, captureId, hash) : null,
    overridden,
    supersededBy: facts.newer,
    reviews: reviews(archive, captureId),
    note: standingNote(archive, captureId),
  }
}

/** A good capture of one transition in one sweep. */
export interface Repeat {
  readonly captureId: number
  readonly repeat: number
  readonly counts: boolean
  /** Why it does not count; empty when it does. */
  readonly reason: string
}

/** Good captures of the same transition in the same sweep as the given one (which is among them if it is good). */
export function repeats(archive: Archive, captureId: number): Repeat[] {
  const { sweepId, from, to } = getCapture(archive, captureId)
  const rows = archive
    .sql(
      `SELECT c.id, c.repeat, s.decision, ${SUPERSEDED} AS superseded
       FROM capture c LEFT JOIN standing s ON s.capture_id = c.id
       WHERE c.sweep_id = ? AND c.level_from = ? AND c.level_to = ? AND c.verdict = 'good'
       ORDER BY c.repeat, c.id`,
    )
    .all(sweepId, from, to) as { id: number; repeat: number; decision: ReviewDecision | null; superseded: 0 | 1 }[]
  return rows.map(({ id, repeat, decision, superseded }) => {
    const reason =
      superseded === 1
        ? 'taken again'
        : decision === 'exclude'
          ? 'excluded'
          : decision === 'retake'
            ? 'sent back to be retaken'
            : ''
    return { captureId: id, repeat, counts: reason === '', reason }
  })
}

interface RetakeRecord {
  id: number
  sweep_id: number
  level_from: number
  level_to: number
  repeat: number
  position: number
  reason: string
  reviewer: string
  at: string
  setting: string
  refresh_hz: number
  origin: Origin
  attempts: number
}

/** Captures sent back whose place no newer good capture has taken, by sweep and position. */
export function retakes(archive: Archive, { sweepId }: { readonly sweepId?: number | undefined }): RetakeEntry[] {
  const rows = archive
    .sql(
      `SELECT c.id, c.sweep_id, c.level_from, c.level_to, c.repeat, c.position, v.reason, v.reviewer, v.at, w.setting, w.refresh_hz,
         w.origin,
         (SELECT count(*) FROM capture b
          WHERE b.sweep_id = c.sweep_id AND b.position = c.position AND b.round = c.round + 1) AS attempts
       FROM standing s JOIN capture c ON c.id = s.capture_id JOIN review v ON v.id = s.review_id
       JOIN sweep w ON w.id = c.sweep_id
       WHERE s.decision = 'retake' AND c.verdict = 'good' AND NOT ${SUPERSEDED}
         ${sweepId === undefined ? '' : 'AND c.sweep_id = @sweep'} ORDER BY c.sweep_id, c.position`,
    )
    .all(sweepId === undefined ? {} : { sweep: sweepId }) as RetakeRecord[]
  if (sweepId !== undefined && archive.sql('SELECT 1 FROM sweep WHERE id = ?').get(sweepId) === undefined)
    throw new AppError('not-found', `Sweep ${sweepId} is not in the archive.`)
  return rows.map((row) => {
    return {
      sweepId: row.sweep_id,
      setting: row.setting,
      refreshHz: row.refresh_hz,
      captureId: row.id,
      from: row.level_from,
      to: row.level_to,
      repeat: row.repeat,
      position: row.position,
      reason: row.reason,
      reviewer: row.reviewer,
      at: row.at,
      attempts: row.attempts,
      obstacle: row.origin === 'imported' ? 'An imported sweep has no rig to take it again.' : '',
    }
  })
}
