import type { CaptureInfo } from '#shared/domain/capture.ts'
import type { Result } from '#shared/domain/result.ts'
import type { StoredInput } from '#shared/domain/stored.ts'
import type { Override } from '#shared/domain/views.ts'
import type { Archive } from '../archive.ts'
import { getCapture, type TraceRecord, traceOf } from './captures.ts'
import { getResult } from './results.ts'

interface InputRecord extends TraceRecord {
  id: number
  sweep_id: number
  level_from: number
  level_to: number
  trigger_index: number
  override_id: number
  marks: string | null
}

// In the order of the list, which the outermost loop of cross joins walks; told to order, SQLite would copy all samples
// into a table of its own first.
const INPUTS = `
SELECT c.id, c.sweep_id, c.level_from, c.level_to, c.trigger_index, coalesce(s.override_id, 0) AS override_id, v.marks,
  t.format, t.sample_rate_hz, t.scale_v, t.offset_v, t.range_v, t.crc32, t.samples
FROM json_each(?) j CROSS JOIN capture c ON c.id = j.value CROSS JOIN trace t ON t.capture_id = c.id
LEFT JOIN standing s ON s.capture_id = c.id LEFT JOIN review v ON v.id = s.override_id`

/** Samples of one answer, so that long records do not fill the memory: 4 MB, and one capture at least. */
const BUDGET = 4 * 1024 * 1024

/** What measuring needs of some captures, in the order asked; unknown ids are left out, and the end when it is much. */
export function inputs(archive: Archive, ids: readonly number[]): StoredInput[] {
  const found: StoredInput[] = []
  let bytes = 0
  for (const row of archive.sql(INPUTS).iterate(JSON.stringify(ids)) as Iterable<InputRecord>) {
    found.push({
      captureId: row.id,
      sweepId: row.sweep_id,
      from: row.level_from,
      to: row.level_to,
      triggerIndex: row.trigger_index,
      overrideId: row.override_id === 0 ? null : row.override_id,
      override: row.marks === null ? null : (JSON.parse(row.marks) as Override),
      trace: traceOf(row, row.id),
    })
    bytes += row.samples.byteLength
    if (bytes >= BUDGET) break
  }
  return found
}

/** Captures with the results that count, in the order asked. AppError `not-found` for an unknown one. */
export function capturesMeasured(
  archive: Archive,
  request: { readonly captureIds: readonly number[]; readonly recipeHash: string },
): { info: CaptureInfo; result: Result | null }[] {
  return request.captureIds.map((id) => ({
    info: getCapture(archive, id),
    result: getResult(archive, id, request.recipeHash),
  }))
}
