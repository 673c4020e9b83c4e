import { AppError } from '#shared/domain/errors.ts'
import type { LogEntry, NewReview, Override, ReviewDecision, ReviewEntry } from '#shared/domain/views.ts'
import type { Archive } from '../archive.ts'

interface ReviewRecord {
  id: number
  capture_id: number
  decision: ReviewDecision
  reason: string
  reviewer: string
  marks: string | null
  at: string
  undone: number
}

const reviewOf = (row: ReviewRecord): ReviewEntry => ({
  id: row.id,
  captureId: row.capture_id,
  decision: row.decision,
  reason: row.reason,
  reviewer: row.reviewer,
  override: row.marks === null ? null : (JSON.parse(row.marks) as Override),
  at: row.at,
  undone: row.undone !== 0,
})

/** Draws the standing decision of a capture from its history: the newest review that was not taken back. */
function updateStanding(archive: Archive, captureId: number): void {
  archive.sql('DELETE FROM standing WHERE capture_id = ?').run(captureId)
  archive
    .sql(
      `INSERT INTO standing (capture_id, review_id, decision, override_id)
       SELECT capture_id, id, decision, CASE WHEN decision = 'override' AND marks IS NOT NULL THEN id ELSE 0 END
       FROM review WHERE capture_id = ? AND undone = 0 ORDER BY id DESC LIMIT 1`,
    )
    .run(captureId)
}

function reviewById(archive: Archive, id: number): ReviewEntry {
  return reviewOf(archive.sql('SELECT * FROM review WHERE id = ?').get(id) as ReviewRecord)
}

export function addReview(archive: Archive, review: NewReview, at: string): ReviewEntry {
  return archive.write(() => {
    if (archive.sql('SELECT 1 FROM capture WHERE id = ?').get(review.captureId) === undefined)
      throw new AppError('not-found', `Capture ${review.captureId} is not in the archive.`)
    if (review.decision === 'override' && review.override === null)
      throw new AppError('invalid-input', 'An override needs the marks that were moved.')
    archive.sql('UPDATE review SET undone = 2 WHERE undone = 1').run()
    const marks = review.override === null ? null : JSON.stringify(review.override)
    const { lastInsertRowid } = archive
      .sql('INSERT INTO review (capture_id, decision, reason, reviewer, marks, at) VALUES (?, ?, ?, ?, ?, ?)')
      .run(review.captureId, review.decision, review.reason, review.reviewer, marks, at)
    updateStanding(archive, review.captureId)
    return reviewById(archive, Number(lastInsertRowid))
  })
}

function mark(archive: Archive, find: string, undone: 0 | 1): ReviewEntry | null {
  return archive.write(() => {
    const id = archive.sql(find).pluck().get()
    if (typeof id !== 'number') return null
    archive.sql('UPDATE review SET undone = ? WHERE id = ?').run(undone, id)
    const review = reviewById(archive, id)
    updateStanding(archive, review.captureId)
    return review
  })
}

export function undoReview(archive: Archive): ReviewEntry | null {
  return mark(archive, 'SELECT max(id) FROM review WHERE undone = 0', 1)
}

/** Reviews are taken back newest first, so the one taken back last is the oldest of those. */
export function redoReview(archive: Archive): ReviewEntry | null {
  return mark(archive, 'SELECT min(id) FROM review WHERE undone = 1', 0)
}

export function reviews(archive: Archive, captureId: number): ReviewEntry[] {
  const rows = archive.sql('SELECT * FROM review WHERE capture_id = ? ORDER BY id').all(captureId)
  return (rows as ReviewRecord[]).map(reviewOf)
}

interface EventRecord {
  id: number
  at: string
  sweep_id: number | null
  level: LogEntry['level']
  text: string
}

const entryOf = (row: EventRecord): LogEntry => ({
  id: row.id,
  at: row.at,
  sweepId: row.sweep_id,
  level: row.level,
  text: row.text,
})

export function log(
  archive: Archive,
  entry: { sweepId: number | null; level: 'info' | 'warn' | 'error'; text: string },
  at: string,
): LogEntry {
  const { lastInsertRowid } = archive
    .sql('INSERT INTO event (at, sweep_id, level, text) VALUES (?, ?, ?, ?)')
    .run(at, entry.sweepId, entry.level, entry.text)
  return { ...entry, id: Number(lastInsertRowid), at }
}

/** Ascending. With `afterId` the first entries after it, without it the newest. */
export function events(archive: Archive, query: { sweepId?: number; afterId?: number; limit: number }): LogEntry[] {
  const conditions = ['id > @after']
  if (query.sweepId !== undefined) conditions.push('sweep_id = @sweep')
  const newestFirst = query.afterId === undefined
  const rows = archive
    .sql(
      `SELECT id, at, sweep_id, level, text FROM event WHERE ${conditions.join(' AND ')}
       ORDER BY id ${newestFirst ? 'DESC' : 'ASC'} LIMIT @limit`,
    )
    .all({ after: query.afterId ?? 0, sweep: query.sweepId ?? 0, limit: query.limit }) as EventRecord[]
  if (newestFirst) rows.reverse()
  return rows.map(entryOf)
}
