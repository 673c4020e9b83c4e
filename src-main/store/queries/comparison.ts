import { MEASURE_IDS, type MeasureId } from '#shared/domain/measures.ts'
import type { FlagId } from '#shared/domain/result.ts'
import { edgeOf, type GroupRow } from '#shared/measure/group-flags.ts'
import type { Archive } from '../archive.ts'
import { commonColumn, uncertaintyColumn } from '../measure-columns.ts'
import { COUNTS } from './captures.ts'
import { analysisId, EFFECTIVE_RESULT } from './results.ts'

type Row = Readonly<Record<`u_${MeasureId}` | `c_${MeasureId}` | MeasureId, number | null>> & {
  readonly id: number
  readonly level_from: number
  readonly level_to: number
  readonly frame_since_trigger_s: number | null
  readonly result_id: number
  readonly refresh_hz: number
  readonly counts: 0 | 1
  readonly cross_low_s: number | null
  readonly cross_mid_s: number | null
}

const ROWS = `
SELECT c.id, c.level_from, c.level_to, c.frame_since_trigger_s, r.id AS result_id,
  ${COUNTS} AS counts,
  w.refresh_hz, d.cross_low_s, d.cross_mid_s,
  ${MEASURE_IDS.map((id) => `r.${id}, d.${uncertaintyColumn(id)}, d.${commonColumn(id)}`).join(', ')}
FROM capture c JOIN sweep w ON w.id = c.sweep_id LEFT JOIN standing s ON s.capture_id = c.id
JOIN result r ON ${EFFECTIVE_RESULT} JOIN result_detail d ON d.result_id = r.id
WHERE c.sweep_id = @sweep AND c.verdict = 'good' ORDER BY c.id`

/** What the good captures of a sweep are compared by under a recipe, in id order; those without a result are left out. */
export function comparison(archive: Archive, sweepId: number, recipeHash: string): GroupRow[] {
  const rows = archive.sql(ROWS).all({ sweep: sweepId, analysis: analysisId(archive, recipeHash) }) as Row[]
  // Flags of an earlier comparison say nothing about the capture alone.
  const own = archive.sql('SELECT flag FROM result_flag WHERE result_id = ? AND origin = 0').pluck()
  return rows.map((row) => ({
    info: { id: row.id, from: row.level_from, to: row.level_to },
    values: Object.fromEntries(MEASURE_IDS.map((id) => [id, row[id]])) as Record<MeasureId, number | null>,
    uncertainties: present((id) => row[uncertaintyColumn(id)]),
    common: present((id) => row[commonColumn(id)]),
    counts: row.counts === 1,
    flags: own.all(row.result_id) as FlagId[],
    edgeS: edgeOf({ crossLowS: row.cross_low_s, crossMidS: row.cross_mid_s }),
    sinceTriggerS: row.frame_since_trigger_s,
    frameS: row.refresh_hz > 0 ? 1 / row.refresh_hz : null,
  }))
}

function present(of: (id: MeasureId) => number | null): Partial<Record<MeasureId, number>> {
  const known: Partial<Record<MeasureId, number>> = {}
  for (const id of MEASURE_IDS) {
    const value = of(id)
    if (value !== null) known[id] = value
  }
  return known
}
