import { MEASURE_IDS, type MeasureId } from '#shared/domain/measures.ts'
import type { FlagId } from '#shared/domain/result.ts'
import type { CaptureFilter, CaptureRow, ReviewDecision } from '#shared/domain/views.ts'
import type { Archive } from '../archive.ts'
import { type CaptureRecord, captureOf } from './captures.ts'
import { analysisId, EFFECTIVE_RESULT } from './results.ts'

type Parameters = Record<string, number | string>

const STANDING = 'LEFT JOIN standing s ON s.capture_id = c.id'
// Results first: one pass over the results of one recipe, each looked up in the captures.
const MEASURED = `FROM result r CROSS JOIN capture c ON c.id = r.capture_id ${STANDING}`
const IS_EFFECTIVE = 'r.analysis_id = @analysis AND r.override_id = coalesce(s.override_id, 0)'

/** Conditions on captures and their standing decision. Only fixed SQL text; values travel as parameters. */
function captureConditions(filter: CaptureFilter, parameters: Parameters): string[] {
  const conditions: string[] = []
  const add = (sql: string, name: string, value: number | string): void => {
    conditions.push(sql)
    parameters[name] = value
  }
  if (filter.sweepId !== undefined) add('c.sweep_id = @sweep', 'sweep', filter.sweepId)
  if (filter.campaignId !== undefined)
    add('c.sweep_id IN (SELECT id FROM sweep WHERE campaign_id = @campaign)', 'campaign', filter.campaignId)
  if (filter.from !== undefined) add('c.level_from = @from', 'from', filter.from)
  if (filter.to !== undefined) add('c.level_to = @to', 'to', filter.to)
  if (filter.verdict !== undefined) add('c.verdict = @verdict', 'verdict', filter.verdict)
  if (filter.review === 'none') conditions.push('s.decision IS NULL')
  else if (filter.review !== undefined) add('s.decision = @review', 'review', filter.review)
  if (filter.doubtful === false) conditions.push('s.decision IS NOT NULL')
  return conditions
}

const where = (conditions: readonly string[]): string =>
  conditions.length === 0 ? '' : `WHERE ${conditions.join(' AND ')}`

/**
 * Captures that match every given filter, one page of them in the asked order, and how many match in all. Captures
 * without a value in the sorted column come last, ties in id order.
 */
export function captures(archive: Archive, filter: CaptureFilter): { rows: CaptureRow[]; total: number } {
  const parameters: Parameters = { analysis: analysisId(archive, filter.recipeHash) }
  const onCapture = captureConditions(filter, parameters)
  const onResult: string[] = []
  if (filter.flag !== undefined) {
    onResult.push('r.id IN (SELECT result_id FROM result_flag WHERE flag = @flag)')
    parameters['flag'] = filter.flag
  }
  if (filter.doubtful === true) onResult.push('r.flag_count > 0', 's.decision IS NULL')

  const count = (sql: string): number => Number(archive.sql(sql).pluck().get(parameters))
  const page = (sql: string, limit: number, offset: number): number[] =>
    archive
      .sql(`${sql} LIMIT @limit OFFSET @offset`)
      .pluck()
      .all({ ...parameters, limit, offset }) as number[]

  const { by, descending } = filter.sort
  const measured = `${MEASURED} ${where([IS_EFFECTIVE, ...(filter.sweepId === undefined ? [] : ['r.sweep_id = @sweep']), ...onResult, ...onCapture])}`
  const direction = descending ? 'DESC' : 'ASC'

  let ids: number[]
  let total: number
  if (onResult.length > 0) {
    total = count(`SELECT count(*) ${measured}`)
    ids = page(`SELECT c.id ${measured} ${orderOf(by, direction)}`, filter.limit, filter.offset)
  } else {
    const all = `FROM capture c ${filter.review === undefined && filter.doubtful === undefined ? '' : STANDING} ${where(onCapture)}`
    total = count(`SELECT count(*) ${all}`)
    if (by === 'id') ids = page(`SELECT c.id ${all} ORDER BY c.id ${direction}`, filter.limit, filter.offset)
    else {
      ids = page(`SELECT c.id ${measured} ${orderOf(by, direction)}`, filter.limit, filter.offset)
      if (ids.length < filter.limit && filter.offset + ids.length < total) {
        const ahead = ids.length > 0 ? filter.offset + ids.length : count(`SELECT count(*) ${measured}`)
        const rest = `FROM capture c ${STANDING} ${where([
          ...onCapture,
          `NOT EXISTS (SELECT 1 FROM result r WHERE ${EFFECTIVE_RESULT})`,
        ])}`
        ids.push(
          ...page(
            `SELECT c.id ${rest} ORDER BY c.id`,
            filter.limit - ids.length,
            Math.max(0, filter.offset + ids.length - ahead),
          ),
        )
      }
    }
  }
  return { rows: rowsOf(archive, ids, parameters['analysis'] as number), total }
}

function orderOf(by: CaptureFilter['sort']['by'], direction: 'ASC' | 'DESC'): string {
  if (by === 'id') return `ORDER BY c.id ${direction}`
  if (by === 'flags') return `ORDER BY r.flag_count ${direction}, c.id`
  // The name comes from the catalogue, never from the caller's text.
  const column = MEASURE_IDS.find((id) => id === by) ?? 'snr'
  return `ORDER BY r.${column} IS NULL, r.${column} ${direction}, c.id`
}

const ROWS = `
SELECT c.*, s.decision, r.id AS result_id, ${MEASURE_IDS.map((id) => `r.${id}`).join(', ')}
FROM json_each(@ids) j CROSS JOIN capture c ON c.id = j.value ${STANDING} LEFT JOIN result r ON ${EFFECTIVE_RESULT}
ORDER BY j.id`

type RowRecord = CaptureRecord & { decision: ReviewDecision | null; result_id: number | null } & Record<
    MeasureId,
    number | null
  >

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
    values: row.result_id === null ? null : valuesOf(row),
  }))
}

function valuesOf(row: RowRecord): Record<MeasureId, number | null> {
  const values: Partial<Record<MeasureId, number | null>> = {}
  for (const id of MEASURE_IDS) values[id] = row[id]
  return values as Record<MeasureId, number | null>
}
