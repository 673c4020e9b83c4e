import { AppError } from '#shared/domain/errors.ts'
import { MEASURE_IDS, type MeasureId } from '#shared/domain/measures.ts'
import type { SweepPlan } from '#shared/domain/plan.ts'
import type { MatrixData, MatrixEntry, ReviewDecision } from '#shared/domain/views.ts'
import type { Archive } from '../archive.ts'
import { SUPERSEDED } from './captures.ts'
import { analysisId, EFFECTIVE_RESULT } from './results.ts'

type Cell = [
  id: number,
  from: number,
  to: number,
  repeat: number,
  decision: ReviewDecision | null,
  resultId: number | null,
  overrideId: number | null,
  flagCount: number | null,
  ...values: (number | null)[],
]

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
      `SELECT c.id, c.level_from, c.level_to, c.repeat, s.decision, r.id, r.override_id, r.flag_count${wanted
        .map((id) => `, r.${id}`)
        .join('')}
       FROM capture c LEFT JOIN standing s ON s.capture_id = c.id LEFT JOIN result r ON ${EFFECTIVE_RESULT}
       WHERE c.sweep_id = @sweep AND c.verdict = 'good' AND NOT ${SUPERSEDED}
       ORDER BY c.level_from, c.level_to, c.repeat, c.id`,
    )
    .raw()
    .all({ analysis: analysisId(archive, hash), sweep: sweepId }) as Cell[]
  const levels = new Set((JSON.parse(planText) as SweepPlan).levels)
  const cells: { from: number; to: number; entries: MatrixEntry[] }[] = []
  let unmeasured = 0
  for (const [id, from, to, repeat, decision, resultId, overrideId, flagCount, ...values] of rows) {
    levels.add(from)
    levels.add(to)
    if (resultId === null) {
      unmeasured++
      continue
    }
    let cell = cells.at(-1)
    if (cell === undefined || cell.from !== from || cell.to !== to) {
      cell = { from, to, entries: [] }
      cells.push(cell)
    }
    cell.entries.push({
      captureId: id,
      repeat,
      values: Object.fromEntries(wanted.map((measure, i) => [measure, values[i] ?? null])),
      flagCount: flagCount ?? 0,
      excluded: decision === 'exclude' || decision === 'retake',
      overridden: (overrideId ?? 0) !== 0,
    })
  }
  return { sweepId, recipeHash: hash, levels: [...levels].sort((a, b) => a - b), cells, unmeasured }
}
