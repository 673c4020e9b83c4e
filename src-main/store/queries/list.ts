import { MEASURE_IDS, type MeasureId } from '#shared/domain/measures.ts'
import type { FlagId } from '#shared/domain/result.ts'
import type { CaptureFilter, CaptureRow, ReviewDecision } from '#shared/domain/views.ts'
import type { Archive } from '../archive.ts'
import { type CaptureRecord, captureOf, NEWER_GOOD, SUPERSEDED } from './captures.ts'
import { analysisId, EFFECTIVE_RESULT } from './results.ts'

type Values = Record<string, number | string>

const STANDING = 'LEFT JOIN standing s ON s.capture_id = c.id'
/** Pages that begin later than this come out of a list ordered once. */
const DEEP = 2000

export interface Question {
  /** FROM and WHERE over results, aliased r, and over captures, aliased c. */
  readonly results: string
  readonly captures: string
  /** Only captures with a result can match. */
  readonly onlyMeasured: boolean
  readonly values: Values
}

/** Captures whose newest standing note says something. */
const NOTED = `SELECT o.capture_id FROM note o WHERE o.undone = 0 AND o.text <> '' AND NOT EXISTS (
  SELECT 1 FROM note p WHERE p.capture_id = o.capture_id AND p.undone = 0 AND p.id > o.id)`
/** Good captures in whose place newer ones count. */
const REPLACED = `SELECT c.id FROM (SELECT DISTINCT sweep_id, position FROM capture WHERE round > 0) d
  JOIN capture c ON c.sweep_id = d.sweep_id AND c.position = d.position AND c.verdict = 'good'
  WHERE EXISTS (SELECT 1 ${NEWER_GOOD})`

/** Leaves out captures all of whose flags are accepted for their sweep; asks nothing while none is. */
function notAccepted(archive: Archive): readonly string[] {
  const some = archive.sql('SELECT EXISTS (SELECT 1 FROM accepted_flag WHERE withdrawn_at IS NULL)').pluck().get()
  if (some === 0) return []
  return [
    `(r.sweep_id NOT IN (SELECT sweep_id FROM accepted_flag WHERE withdrawn_at IS NULL)
      OR EXISTS (SELECT 1 FROM result_flag f WHERE f.result_id = r.id AND f.flag NOT IN (
        SELECT a.flag FROM accepted_flag a WHERE a.sweep_id = r.sweep_id AND a.withdrawn_at IS NULL)))`,
  ]
}

const bad = (verdict: string): string => `SELECT id FROM capture WHERE verdict <> 'good'${verdict}`

/** SQL of the filter in two forms. Only fixed text; what the caller gave travels as parameters. */
export function questionOf(archive: Archive, filter: CaptureFilter): Question {
  const values: Values = { analysis: analysisId(archive, filter.recipeHash) }
  const onResults = ['r.analysis_id = @analysis', effectiveCondition(archive)]
  const onCaptures: string[] = []
  const both = (name: string, value: number | string, results: string, captures: string): void => {
    onResults.push(results)
    onCaptures.push(captures)
    values[name] = value
  }
  if (filter.sweepId !== undefined) both('sweep', filter.sweepId, 'r.sweep_id = @sweep', 'c.sweep_id = @sweep')
  else if (archive.sql('SELECT EXISTS (SELECT 1 FROM sweep WHERE hidden = 1)').pluck().get() === 1) {
    const listed = 'NOT IN (SELECT id FROM sweep WHERE hidden = 1)'
    onResults.push(`r.sweep_id ${listed}`)
    onCaptures.push(`c.sweep_id ${listed}`)
  }
  if (filter.campaignId !== undefined) {
    const sweeps = 'IN (SELECT id FROM sweep WHERE campaign_id = @campaign)'
    both('campaign', filter.campaignId, `r.sweep_id ${sweeps}`, `c.sweep_id ${sweeps}`)
  }
  if (filter.from !== undefined) both('from', filter.from, 'r.level_from = @from', 'c.level_from = @from')
  if (filter.to !== undefined) both('to', filter.to, 'r.level_to = @to', 'c.level_to = @to')
  // Written so that the small index of captures that are not good serves both.
  if (filter.verdict === 'good') both('verdict', 'good', `r.capture_id NOT IN (${bad('')})`, "c.verdict = 'good'")
  else if (filter.verdict !== undefined)
    both(
      'verdict',
      filter.verdict,
      `r.capture_id IN (${bad(' AND verdict = @verdict')})`,
      "c.verdict <> 'good' AND c.verdict = @verdict",
    )
  if (filter.review !== undefined) {
    const decided =
      filter.review === 'none'
        ? 'NOT IN (SELECT capture_id FROM standing)'
        : 'IN (SELECT capture_id FROM standing WHERE decision = @review)'
    both('review', filter.review, `r.capture_id ${decided}`, `c.id ${decided}`)
  }
  if (filter.noted !== undefined) {
    const noted = `${filter.noted ? 'IN' : 'NOT IN'} (${NOTED})`
    onResults.push(`r.capture_id ${noted}`)
    onCaptures.push(`c.id ${noted}`)
  }
  let from = 'result r'
  if (filter.flag !== undefined) {
    from = '(SELECT DISTINCT result_id FROM result_flag WHERE flag = @flag) f CROSS JOIN result r ON r.id = f.result_id'
    values['flag'] = filter.flag
  }
  if (filter.doubtful === true)
    onResults.push(
      'r.flag_count > 0',
      ...notAccepted(archive),
      'r.capture_id NOT IN (SELECT capture_id FROM standing)',
      `r.capture_id NOT IN (${REPLACED})`,
    )
  return {
    results: `FROM ${from} WHERE ${onResults.join(' AND ')}`,
    captures: `FROM capture c ${onCaptures.length === 0 ? '' : `WHERE ${onCaptures.join(' AND ')}`}`,
    onlyMeasured: filter.flag !== undefined || filter.doubtful === true,
    values,
  }
}

/** Picks from results alone those that count: of the standing override, else the machine's own. */
function effectiveCondition(archive: Archive): string {
  const overridden = archive.sql('SELECT EXISTS (SELECT 1 FROM standing WHERE override_id <> 0)').pluck().get()
  if (overridden === 0) return 'r.override_id = 0'
  return `(r.override_id = 0 AND r.capture_id NOT IN (SELECT capture_id FROM standing WHERE override_id <> 0)
    OR r.override_id IN (SELECT override_id FROM standing WHERE override_id <> 0))`
}

function orderOf(by: CaptureFilter['sort']['by'], direction: 'ASC' | 'DESC'): string {
  if (by === 'id') return `ORDER BY r.capture_id ${direction}`
  if (by === 'flags') return `ORDER BY r.flag_count ${direction}, r.capture_id`
  // The name comes from the catalogue, never from the caller's text.
  const column = MEASURE_IDS.find((id) => id === by) ?? 'snr'
  return `ORDER BY r.${column} ${direction} NULLS LAST, r.capture_id`
}

/**
 * Captures that match every given filter (`doubtful: false` asks nothing; true leaves out those that newer ones replace),
 * one page of them in the asked order, and how many match in all. Those of a sweep taken back are listed only when the
 * sweep itself is asked for. Captures without a value in the ordered column come last, those without any result after
 * them;
 * ties in id order.
 */
export function captures(archive: Archive, filter: CaptureFilter): { rows: CaptureRow[]; total: number } {
  const question = questionOf(archive, filter)
  const count = Number(
    archive
      .sql(`SELECT count(*) ${question.onlyMeasured ? question.results : question.captures}`)
      .pluck()
      .get(question.values),
  )
  const { offset, limit } = filter
  let ids: readonly number[] = []
  if (offset < count)
    ids =
      offset > DEEP && filter.sort.by !== 'id'
        ? orderedOnce(archive, filter, question).slice(offset, offset + limit)
        : idsOf(archive, filter, question, limit, offset)
  return { rows: rowsOf(archive, ids, Number(question.values['analysis'])), total: count }
}

function idsOf(
  archive: Archive,
  filter: CaptureFilter,
  question: Question,
  limit: number,
  offset: number,
): readonly number[] {
  const { by, descending } = filter.sort
  const direction = descending ? 'DESC' : 'ASC'
  const page = (sql: string, length: number, start: number): number[] =>
    archive
      .sql(`${sql} LIMIT @limit OFFSET @offset`)
      .pluck()
      .all({ ...question.values, limit: length, offset: start }) as number[]

  if (by === 'id' && !question.onlyMeasured)
    return page(`SELECT c.id ${question.captures} ORDER BY c.id ${direction}`, limit, offset)
  const ids = page(`SELECT r.capture_id ${question.results} ${orderOf(by, direction)}`, limit, offset)
  if (question.onlyMeasured || ids.length === limit) return ids
  // The page runs past the captures that have a result.
  const measured =
    ids.length > 0
      ? offset + ids.length
      : Number(archive.sql(`SELECT count(*) ${question.results}`).pluck().get(question.values))
  const rest = `SELECT c.id ${question.captures}${question.captures.includes('WHERE') ? ' AND' : ' WHERE'}
    c.id NOT IN (SELECT r.capture_id ${question.results}) ORDER BY c.id`
  return [...ids, ...page(rest, limit - ids.length, Math.max(0, offset - measured))]
}

/** All ids of a question in order, from the last time while nothing has changed. */
export function orderedOnce(archive: Archive, filter: CaptureFilter, question: Question): readonly number[] {
  const text = JSON.stringify({ ...filter, offset: 0, limit: 0 })
  const { ordered } = archive
  const changes = archive.changes()
  if (ordered.question !== text || ordered.changes !== changes) {
    ordered.ids = idsOf(archive, filter, question, Number.MAX_SAFE_INTEGER, 0)
    ordered.question = text
    ordered.changes = changes
  }
  return ordered.ids
}

const ROWS = `
SELECT c.*, s.decision, coalesce(s.override_id, 0) <> 0 AS overridden, c.id IN (${NOTED}) AS noted,
  ${SUPERSEDED} AS superseded, r.id AS result_id, ${MEASURE_IDS.map((id) => `r.${id}`).join(', ')}
FROM json_each(@ids) j CROSS JOIN capture c ON c.id = j.value ${STANDING} LEFT JOIN result r ON ${EFFECTIVE_RESULT}
ORDER BY j.id`

type RowRecord = CaptureRecord &
  Record<MeasureId, number | null> & {
    decision: ReviewDecision | null
    overridden: 0 | 1
    noted: 0 | 1
    superseded: 0 | 1
    result_id: number | null
  }

function rowsOf(archive: Archive, ids: readonly number[], analysis: number): CaptureRow[] {
  const records = archive.sql(ROWS).all({ ids: JSON.stringify(ids), analysis }) as RowRecord[]
  const flagged = archive
    .sql('SELECT f.result_id, f.flag FROM json_each(?) j CROSS JOIN result_flag f ON f.result_id = j.value')
    .raw()
    .all(JSON.stringify(records.flatMap((row) => (row.result_id === null ? [] : [row.result_id])))) as [
    number,
    FlagId,
  ][]
  const flags = new Map<number, Set<FlagId>>()
  for (const [resultId, flag] of flagged) {
    const set = flags.get(resultId)
    if (set === undefined) flags.set(resultId, new Set([flag]))
    else set.add(flag)
  }
  return records.map((row) => ({
    info: captureOf(row),
    flags: row.result_id === null ? [] : [...(flags.get(row.result_id) ?? [])],
    review: row.decision,
    overridden: row.overridden === 1 && row.result_id !== null,
    noted: row.noted === 1,
    superseded: row.superseded === 1,
    values: row.result_id === null ? null : valuesOf(row),
  }))
}

function valuesOf(row: RowRecord): Record<MeasureId, number | null> {
  const values: Partial<Record<MeasureId, number | null>> = {}
  for (const id of MEASURE_IDS) values[id] = row[id]
  return values as Record<MeasureId, number | null>
}
