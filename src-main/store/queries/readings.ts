/** Readings: what is known of a display beyond its transition traces. */
import { AppError } from '#shared/domain/errors.ts'
import type { NewReading, Reading } from '#shared/domain/reading.ts'
import type { Archive } from '../archive.ts'

interface ReadingRecord extends Omit<Reading, 'hidden' | 'series'> {
  series: string | null
  hidden: 0 | 1
}

const COLUMNS = `id, campaign_id AS campaignId, sweep_id AS sweepId, kind, quantity, unit, value, series, u, source, place,
  note, at, added_at AS addedAt, hidden, setting, refresh_hz AS refreshHz`

const readingOf = (row: ReadingRecord): Reading => ({
  ...row,
  series: row.series === null ? null : (JSON.parse(row.series) as (number | null)[]),
  hidden: row.hidden === 1,
})

export function addReading(archive: Archive, reading: NewReading): Reading {
  return archive.write(() => {
    if (archive.sql('SELECT 1 FROM campaign WHERE id = ?').get(reading.campaignId) === undefined)
      throw new AppError('not-found', `Campaign ${reading.campaignId} is not in the archive.`)
    const sweepIn = archive.sql('SELECT 1 FROM sweep WHERE id = ? AND campaign_id = ?')
    if (reading.sweepId !== null && sweepIn.get(reading.sweepId, reading.campaignId) === undefined)
      throw new AppError('not-found', `Sweep ${reading.sweepId} is not in campaign ${reading.campaignId}.`)
    const { lastInsertRowid } = archive
      .sql(
        `INSERT INTO reading (campaign_id, sweep_id, kind, quantity, unit, value, series, u, source, place, note,
           at, added_at, setting, refresh_hz)
         VALUES (@campaignId, @sweepId, @kind, @quantity, @unit, @value, @series, @u, @source, @place, @note,
           @at, @addedAt, @setting, @refreshHz)`,
      )
      .run({
        ...reading,
        series: reading.series === null ? null : JSON.stringify(reading.series),
        addedAt: archive.at,
      })
    return readingById(archive, Number(lastInsertRowid))
  })
}

/** All of them, or none. */
export const addReadings = (
  archive: Archive,
  { readings: all }: { readonly readings: readonly NewReading[] },
): Reading[] => archive.write(() => all.map((reading) => addReading(archive, reading)))

function readingById(archive: Archive, id: number): Reading {
  const row = archive.sql(`SELECT ${COLUMNS} FROM reading WHERE id = ?`).get(id) as ReadingRecord | undefined
  if (row === undefined) throw new AppError('not-found', `Reading ${id} is not in the archive.`)
  return readingOf(row)
}

/** Of a campaign, in the order they were taken; hidden ones only when asked for. */
export function readings(
  archive: Archive,
  query: {
    readonly campaignId: number
    readonly kind?: string | undefined
    readonly sweepId?: number | undefined
    readonly includeHidden?: boolean | undefined
  },
): Reading[] {
  const conditions = ['campaign_id = @campaign']
  if (query.kind !== undefined) conditions.push('kind = @kind')
  if (query.sweepId !== undefined) conditions.push('sweep_id = @sweep')
  if (query.includeHidden !== true) conditions.push('hidden = 0')
  const rows = archive
    .sql(`SELECT ${COLUMNS} FROM reading WHERE ${conditions.join(' AND ')} ORDER BY julianday(at), id`)
    .all({ campaign: query.campaignId, kind: query.kind ?? '', sweep: query.sweepId ?? 0 })
  return (rows as ReadingRecord[]).map(readingOf)
}

/** Takes a reading out of the lists or restores it; nothing is deleted. */
export function hideReading(
  archive: Archive,
  request: { readonly readingId: number; readonly hidden: boolean },
): Reading {
  archive.sql('UPDATE reading SET hidden = ? WHERE id = ?').run(request.hidden ? 1 : 0, request.readingId)
  return readingById(archive, request.readingId)
}
