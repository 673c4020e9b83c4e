/** What people decide and note about captures: one history, undone and redone in one order. */
import { AppError } from '#shared/domain/errors.ts'
import { stepWords, type HistoryEntry, type NewNote, type NewReviews, type NoteEntry } from '#shared/domain/desk.ts'
import type { CaptureFilter, NewReview, Override, ReviewDecision, ReviewEntry } from '#shared/domain/views.ts'
import type { Archive } from '../archive.ts'
import { NEWER_GOOD } from './captures.ts'
import { orderedOnce, questionOf } from './list.ts'

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

interface NoteRecord {
  id: number
  capture_id: number
  text: string
  reviewer: string
  at: string
  undone: number
}

const noteOf = (row: NoteRecord): NoteEntry => ({
  id: row.id,
  captureId: row.capture_id,
  text: row.text,
  reviewer: row.reviewer,
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

/** Number of the next step, and the end of what could be redone: a new step overtakes it. */
function nextStep(archive: Archive): number {
  archive.sql('UPDATE review SET undone = 2 WHERE undone = 1').run()
  archive.sql('UPDATE note SET undone = 2 WHERE undone = 1').run()
  const newest = archive.sql(
    'SELECT max((SELECT coalesce(max(id), 0) FROM review), (SELECT coalesce(max(id), 0) FROM note))',
  )
  return Number(newest.pluck().get()) + 1
}

function refuseUnknown(archive: Archive, captureId: number): void {
  if (archive.sql('SELECT 1 FROM capture WHERE id = ?').get(captureId) === undefined)
    throw new AppError('not-found', `Capture ${captureId} is not in the archive.`)
}

/** Only what counts can be sent back: a retake of anything else would wait for ever. */
function refuseVainRetake(archive: Archive, captureId: number): void {
  const row = archive
    .sql(
      `SELECT c.verdict, (SELECT n.id ${NEWER_GOOD} ORDER BY n.round DESC LIMIT 1) AS newer FROM capture c WHERE c.id = ?`,
    )
    .get(captureId) as { verdict: string; newer: number | null }
  if (row.verdict !== 'good')
    throw new AppError(
      'conflict',
      `Capture ${captureId} is not good and does not count, so there is nothing to retake.`,
      'Resume its sweep: transitions without a good capture are taken again.',
    )
  if (row.newer !== null)
    throw new AppError(
      'conflict',
      `Capture ${captureId} has already been retaken; capture ${row.newer} counts in its place.`,
      `Send capture ${row.newer} back instead.`,
    )
}

export function addReview(archive: Archive, review: NewReview): ReviewEntry {
  return archive.write(() => {
    refuseUnknown(archive, review.captureId)
    if (review.decision === 'override' && (review.override === null || Object.keys(review.override).length === 0))
      throw new AppError('invalid-input', 'An override needs the marks that were moved.')
    if (review.decision === 'retake') refuseVainRetake(archive, review.captureId)
    const id = nextStep(archive)
    const marks = review.override === null ? null : JSON.stringify(review.override)
    archive
      .sql('INSERT INTO review (id, capture_id, decision, reason, reviewer, marks, at) VALUES (?, ?, ?, ?, ?, ?, ?)')
      .run(id, review.captureId, review.decision, review.reason, review.reviewer, marks, archive.at)
    updateStanding(archive, review.captureId)
    return reviewOf(archive.sql('SELECT * FROM review WHERE id = ?').get(id) as ReviewRecord)
  })
}

/**
 * The same decision on all good captures of a scope that nobody has reviewed yet and that count: one step to undo.
 * Answers the captures it is about; `conflict` when there are none.
 */
export function addReviews(
  archive: Archive,
  { scope, decision, reason, reviewer }: NewReviews,
): { captureIds: readonly number[] } {
  const filter: CaptureFilter = {
    ...scope,
    verdict: 'good',
    review: 'none',
    sort: { by: 'id', descending: false },
    offset: 0,
    limit: 1,
  }
  return archive.write(() => {
    const captureIds = orderedOnce(archive, filter, questionOf(archive, filter)).filter(
      (id) => archive.sql(`SELECT EXISTS (SELECT 1 ${NEWER_GOOD}) FROM capture c WHERE c.id = ?`).pluck().get(id) === 0,
    )
    if (captureIds.length === 0)
      throw new AppError('conflict', 'Every capture of this scope has been reviewed.', 'Choose another scope.')
    const batch = nextStep(archive)
    captureIds.forEach((captureId, i) => {
      archive
        .sql('INSERT INTO review (id, capture_id, decision, reason, reviewer, at, batch) VALUES (?, ?, ?, ?, ?, ?, ?)')
        .run(batch + i, captureId, decision, reason, reviewer, archive.at, batch)
      updateStanding(archive, captureId)
    })
    return { captureIds }
  })
}

export function addNote(archive: Archive, note: NewNote): NoteEntry {
  return archive.write(() => {
    refuseUnknown(archive, note.captureId)
    const id = nextStep(archive)
    archive
      .sql('INSERT INTO note (id, capture_id, text, reviewer, at) VALUES (?, ?, ?, ?, ?)')
      .run(id, note.captureId, note.text, note.reviewer, archive.at)
    return noteOf(archive.sql('SELECT * FROM note WHERE id = ?').get(id) as NoteRecord)
  })
}

/** The note of a capture that stands; null when there is none, or when the newest took it away. */
export function standingNote(archive: Archive, captureId: number): NoteEntry | null {
  const row = archive
    .sql('SELECT * FROM note WHERE capture_id = ? AND undone = 0 ORDER BY id DESC LIMIT 1')
    .get(captureId) as NoteRecord | undefined
  return row === undefined || row.text === '' ? null : noteOf(row)
}

const STEPS = `
SELECT v.id, 'review' AS kind, v.capture_id, v.decision, v.reason AS text, v.reviewer, v.marks, v.at, v.undone, v.batch FROM review v
UNION ALL
SELECT n.id, 'note', n.capture_id, NULL, n.text, n.reviewer, NULL, n.at, n.undone, NULL FROM note n`

interface StepRecord {
  id: number
  kind: 'review' | 'note'
  capture_id: number
  decision: ReviewDecision | null
  text: string
  reviewer: string
  marks: string | null
  at: string
  undone: number
  batch: number | null
  sweep_id: number
  level_from: number
  level_to: number
  repeat: number
}

function entryOf(row: StepRecord, companions: readonly number[] = []): HistoryEntry {
  const { id, kind, text, reviewer, at } = row
  const entry = {
    id,
    kind,
    captureId: row.capture_id,
    sweepId: row.sweep_id,
    from: row.level_from,
    to: row.level_to,
    repeat: row.repeat,
    at,
    reviewer,
    text,
    companions,
    undone: row.undone !== 0,
    review: row.decision === null ? null : reviewOf({ ...row, decision: row.decision, reason: text }),
    note: kind === 'note' ? noteOf(row) : null,
  }
  return { ...entry, words: stepWords(entry, companions.length) }
}

/** Captures of the reviews that one command made, in the order they were made. */
function companionsOf(archive: Archive, batch: number | null): readonly number[] {
  if (batch === null) return []
  return archive.sql('SELECT capture_id FROM review WHERE batch = ? ORDER BY id').pluck().all(batch) as number[]
}

/** One step, by a query that gives its number. */
function stepBy(archive: Archive, find: string, id = 0): HistoryEntry | null {
  const row = archive
    .sql(
      `SELECT t.*, c.sweep_id, c.level_from, c.level_to, c.repeat FROM (${STEPS}) t JOIN capture c ON c.id = t.capture_id
       WHERE t.id = (${find})`,
    )
    .get(find.includes('@id') ? { id } : {}) as StepRecord | undefined
  return row === undefined ? null : entryOf(row, companionsOf(archive, row.batch))
}

const NEWEST_STANDING = `SELECT max(id) FROM (SELECT max(id) AS id FROM review WHERE undone = 0
  UNION ALL SELECT max(id) FROM note WHERE undone = 0)`
/** Steps are taken back newest first, so the one taken back last is the oldest of those. */
const LAST_UNDONE = `SELECT min(id) FROM (SELECT min(id) AS id FROM review WHERE undone = 1
  UNION ALL SELECT min(id) FROM note WHERE undone = 1)`

function mark(archive: Archive, find: string, undone: 0 | 1): HistoryEntry | null {
  return archive.write(() => {
    const step = stepBy(archive, find)
    if (step === null) return null
    if (step.companions.length > 0)
      archive
        .sql('UPDATE review SET undone = ? WHERE batch = (SELECT batch FROM review WHERE id = ?)')
        .run(undone, step.id)
    else
      archive
        .sql(`UPDATE ${step.kind === 'review' ? 'review' : 'note'} SET undone = ? WHERE id = ?`)
        .run(undone, step.id)
    const decided = step.companions.length > 0 ? step.companions : step.kind === 'review' ? [step.captureId] : []
    for (const captureId of decided) updateStanding(archive, captureId)
    return stepBy(archive, 'SELECT @id', step.id)
  })
}

export function undo(archive: Archive): HistoryEntry | null {
  return mark(archive, NEWEST_STANDING, 1)
}

export function redo(archive: Archive): HistoryEntry | null {
  return mark(archive, LAST_UNDONE, 0)
}

/** What undo and redo would act on. */
export function steps(archive: Archive): { undo: HistoryEntry | null; redo: HistoryEntry | null } {
  return { undo: stepBy(archive, NEWEST_STANDING), redo: stepBy(archive, LAST_UNDONE) }
}

/** Newest first; with what was taken back. */
export function history(
  archive: Archive,
  query: { readonly captureId?: number | undefined; readonly limit: number },
): HistoryEntry[] {
  const rows = archive
    .sql(
      `SELECT t.*, c.sweep_id, c.level_from, c.level_to, c.repeat FROM (${STEPS}) t JOIN capture c ON c.id = t.capture_id
       ${query.captureId === undefined ? '' : 'WHERE t.capture_id = @capture'} ORDER BY t.id DESC LIMIT @limit`,
    )
    .all({ capture: query.captureId ?? 0, limit: query.limit }) as StepRecord[]
  return rows.map((row) => entryOf(row))
}

export function reviews(archive: Archive, captureId: number): ReviewEntry[] {
  const rows = archive.sql('SELECT * FROM review WHERE capture_id = ? ORDER BY id').all(captureId)
  return (rows as ReviewRecord[]).map(reviewOf)
}
