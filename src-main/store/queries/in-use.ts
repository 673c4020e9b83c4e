import type { UsableCapture } from '#shared/domain/stored.ts'
import type { Archive } from '../archive.ts'
import { COUNTS } from './captures.ts'

export const IN_USE_KEYS = { current: 'recipe-in-use', before: 'recipe-before' } as const

/** Hashes of the recipe all screens use and of the one before it; null where none was ever chosen. */
export function recipesInUse(archive: Archive): { current: string | null; before: string | null } {
  const find = archive.sql('SELECT value FROM archive WHERE key = ?').pluck()
  const text = (value: unknown): string | null => (typeof value === 'string' ? value : null)
  return { current: text(find.get(IN_USE_KEYS.current)), before: text(find.get(IN_USE_KEYS.before)) }
}

export function setRecipesInUse(archive: Archive, hashes: { current: string; before: string | null }): null {
  archive.write(() => {
    const put = archive.sql('INSERT OR REPLACE INTO archive (key, value) VALUES (?, ?)')
    put.run(IN_USE_KEYS.current, hashes.current)
    if (hashes.before === null) archive.sql('DELETE FROM archive WHERE key = ?').run(IN_USE_KEYS.before)
    else put.run(IN_USE_KEYS.before, hashes.before)
  })
  return null
}

/**
 * Captures that enter statistics, in id order. An unknown campaign or sweep has none; hidden sweeps count only when they
 * are asked for.
 */
export function usableCaptures(archive: Archive, scope: { campaignId?: number; sweepId?: number }): UsableCapture[] {
  const conditions = ["c.verdict = 'good'"]
  if (scope.sweepId === undefined) conditions.push('c.sweep_id NOT IN (SELECT id FROM sweep WHERE hidden = 1)')
  else conditions.push('c.sweep_id = @sweep')
  if (scope.campaignId !== undefined)
    conditions.push('c.sweep_id IN (SELECT id FROM sweep WHERE campaign_id = @campaign)')
  return archive
    .sql(
      `SELECT c.id AS captureId, c.sweep_id AS sweepId, c.level_from AS "from", c.level_to AS "to"
       FROM capture c LEFT JOIN standing s ON s.capture_id = c.id
       WHERE ${conditions.join(' AND ')} AND ${COUNTS}
       ORDER BY c.id`,
    )
    .all({ sweep: scope.sweepId ?? 0, campaign: scope.campaignId ?? 0 }) as UsableCapture[]
}
