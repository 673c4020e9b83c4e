import type { LogEntry } from '#shared/domain/views.ts'
import type { Archive } from '../archive.ts'

export function log(
  archive: Archive,
  entry: { sweepId: number | null; level: 'info' | 'warn' | 'error'; text: string },
): LogEntry {
  const { at } = archive
  const { lastInsertRowid } = archive
    .sql('INSERT INTO event (at, sweep_id, level, text) VALUES (?, ?, ?, ?)')
    .run(at, entry.sweepId, entry.level, entry.text)
  return { ...entry, id: Number(lastInsertRowid), at }
}

/** Ascending. With `afterId` the first entries after it, without it the newest. */
export function events(
  archive: Archive,
  query: { readonly sweepId?: number | undefined; readonly afterId?: number | undefined; readonly limit: number },
): LogEntry[] {
  const conditions = ['id > @after']
  if (query.sweepId !== undefined) conditions.push('sweep_id = @sweep')
  const newestFirst = query.afterId === undefined
  const rows = archive
    .sql(
      `SELECT id, at, sweep_id AS sweepId, level, text FROM event WHERE ${conditions.join(' AND ')}
       ORDER BY id ${newestFirst ? 'DESC' : 'ASC'} LIMIT @limit`,
    )
    .all({ after: query.afterId ?? 0, sweep: query.sweepId ?? 0, limit: query.limit }) as LogEntry[]
  if (newestFirst) rows.reverse()
  return rows
}
