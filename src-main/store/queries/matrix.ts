import { AppError } from '#shared/domain/errors.ts'
import { MEASURE_IDS, type MeasureId } from '#shared/domain/measures.ts'
import type { SweepPlan } from '#shared/domain/plan.ts'
import { UNDECIDED } from '#shared/domain/result.ts'
import type { MatrixData, MatrixEntry, ReviewDecision } from '#shared/domain/views.ts'
import type { Archive } from '../archive.ts'
import { commonColumn, uncertaintyColumn } from '../measure-columns.ts'
import { SUPERSEDED } from './captures.ts'
import { analysisId, EFFECTIVE_RESULT } from './results.ts'

type Head = [
  id: number,
  from: number,
  to: number,
  repeat: number,
  decision: ReviewDecision | null,
  resultId: number | null,
  overrideId: number | null,
  flagCount: number | null,
  undecided: 0 | 1,
]
/** After these stand the numbers. */
const HEAD = 9

/** Values, uncertainties and their common parts, in this order, each in the order of the measures asked for. */
const COLUMNS = [
  (id: MeasureId) => `r.${id}`,
  (id: MeasureId) => `d.${uncertaintyColumn(id)}`,
  (id: MeasureId) => `d.${commonColumn(id)}`,
]

const UNDECIDED_IN_WINDOW = `r.in_window IS NULL AND EXISTS (
  SELECT 1 FROM result_reason o JOIN measure m ON m.id = o.measure_id JOIN phrase p ON p.id = o.phrase_id
  WHERE o.result_id = r.id AND m.name = 'in_window' AND p.words = @undecided)`

/**
 * Good captures of a sweep under one recipe and the measuring code in use. Where a capture was sent back and taken anew,
 * only the newest good one counts. Captures without a result are counted in `unmeasured` and have no entry; cells
 * without entries are left out.
 */
export function matrix(
  archive: Archive,
  request: { readonly sweepId: number; readonly recipeHash: string; readonly measures: readonly MeasureId[] },
): MatrixData {
  const { sweepId, recipeHash: hash, measures } = request
  const planText = archive.sql('SELECT plan FROM sweep WHERE id = ?').pluck().get(sweepId)
  if (typeof planText !== 'string') throw new AppError('not-found', `Sweep ${sweepId} is not in the archive.`)
  const wanted = MEASURE_IDS.filter((id) => measures.includes(id))
  const rows = archive
    .sql(
      `SELECT c.id, c.level_from, c.level_to, c.repeat, s.decision, r.id, r.override_id, r.flag_count,
         ${wanted.includes('in_window') ? UNDECIDED_IN_WINDOW : '0'},
         ${COLUMNS.flatMap((column) => wanted.map(column)).join(', ')}
       FROM capture c LEFT JOIN standing s ON s.capture_id = c.id LEFT JOIN result r ON ${EFFECTIVE_RESULT}
       LEFT JOIN result_detail d ON d.result_id = r.id
       WHERE c.sweep_id = @sweep AND c.verdict = 'good' AND NOT ${SUPERSEDED}`,
    )
    .raw()
    .all({
      analysis: analysisId(archive, hash),
      sweep: sweepId,
      ...(wanted.includes('in_window') ? { undecided: UNDECIDED } : {}),
    }) as Head[]
  // Here and not by SQL, which would copy every row into a table of its own for it.
  rows.sort((a, b) => a[1] - b[1] || a[2] - b[2] || a[3] - b[3] || a[0] - b[0])
  const levels = new Set((JSON.parse(planText) as SweepPlan).levels)
  const cells: { from: number; to: number; entries: MatrixEntry[] }[] = []
  let unmeasured = 0
  let cell: (typeof cells)[number] | undefined
  for (const row of rows) {
    const [, from, to] = row
    if (row[RESULT_ID] === null) {
      levels.add(from)
      levels.add(to)
      unmeasured++
      continue
    }
    if (cell === undefined || cell.from !== from || cell.to !== to) {
      cell = { from, to, entries: [] }
      cells.push(cell)
      levels.add(from)
      levels.add(to)
    }
    cell.entries.push(entryOf(row, wanted))
  }
  return { sweepId, recipeHash: hash, levels: [...levels].sort((a, b) => a - b), cells, unmeasured }
}

const RESULT_ID = 5

function entryOf(row: Head, measures: readonly MeasureId[]): MatrixEntry {
  const [captureId, , , repeat, decision, , overrideId, flagCount, undecided] = row
  const numbers: readonly (number | string | null)[] = row
  const count = measures.length
  const values: Partial<Record<MeasureId, number | null>> = {}
  for (let i = 0; i < count; i++) values[measures[i] as MeasureId] = (numbers[HEAD + i] ?? null) as number | null
  const common = present(measures, numbers, HEAD + 2 * count)
  return {
    captureId,
    repeat,
    values,
    uncertainties: present(measures, numbers, HEAD + count) ?? {},
    // Results of earlier measuring code do not tell it apart, which is not the same as none.
    ...(common === null ? {} : { common }),
    undecided: undecided === 1,
    flagCount: flagCount ?? 0,
    excluded: decision === 'exclude' || decision === 'retake',
    overridden: (overrideId ?? 0) !== 0,
  }
}

/** The numbers from `start` on that are there, by measure; null where none is. */
function present(
  measures: readonly MeasureId[],
  numbers: readonly (number | string | null)[],
  start: number,
): Partial<Record<MeasureId, number>> | null {
  let found: Partial<Record<MeasureId, number>> | null = null
  for (let i = 0; i < measures.length; i++) {
    const value = numbers[start + i]
    if (typeof value === 'number') (found ??= {})[measures[i] as MeasureId] = value
  }
  return found
}
