/** Brings the rows of a damaged archive into a new one, as far as they are whole. */
import type Database from 'better-sqlite3'
import { MEASURE_IDS } from '#shared/domain/measures.ts'
import { DEFAULT_PLAN, sweepPlanSchema } from '#shared/domain/plan.ts'
import { ALGORITHM } from '#shared/domain/result.ts'
import { crc32, crc32Of } from '#main/core/crc32.ts'
import { IN_USE_KEYS } from '../queries/in-use.ts'
import type { CopiedRows } from '../salvage-report.ts'
import type { Row } from './cells.ts'
import { type DamagedArchive, stops } from './damaged-archive.ts'

/** Looked for page by page too; results are only taken where SQLite still reads them, for they can be computed again. */
export const RECOVERED_TABLES = [
  'campaign',
  'run',
  'judgement',
  'plan_template',
  'sweep',
  'reading',
  'latency_run',
  'latency_event',
  'capture',
  'trace',
  'recipe',
  'review',
  'note',
  'accepted_flag',
  'event',
] as const

const BATCH = 200

type Insert = (table: string, row: Row) => boolean

/** Every row of a table that can be had, in order of its id; of several under one id the first that is taken. */
function eachRow(source: DamagedArchive, table: string, take: (row: Row) => boolean): void {
  for (const id of source.ids(table)) for (const row of source.rows(table, id)) if (take(row)) break
}

function inserter(target: Database.Database): Insert {
  const statements = new Map<string, Database.Statement>()
  const known = new Map<string, ReadonlySet<unknown>>()
  const columnsOf = (table: string): ReadonlySet<unknown> => {
    const columns =
      known.get(table) ?? new Set(target.prepare('SELECT name FROM pragma_table_info(?)').pluck().all(table))
    known.set(table, columns)
    return columns
  }
  return (table, row) => {
    // Placeholders name the columns of every version of the schema.
    const there = columnsOf(table)
    const columns = Object.keys(row).filter((column) => there.has(column))
    const text = `INSERT INTO ${table} (${columns.join(', ')}) VALUES (${columns.map(() => '?').join(', ')})`
    let statement = statements.get(text)
    if (statement === undefined) {
      statement = target.prepare(text)
      statements.set(text, statement)
    }
    try {
      statement.run(...columns.map((column) => row[column] ?? null))
      return true
    } catch (error) {
      if (stops(error)) throw error
      // A row that breaks a rule of the schema is damaged too.
      return false
    }
  }
}

/** Stands in for campaigns and sweeps that are lost, so that their captures have a place. */
function placeholders(
  insert: Insert,
  remove: (campaignId: number) => void,
  at: string,
  version: number,
): { inCampaign(row: Row, take: () => boolean): boolean; sweep(capture: Row): void; known: Known } {
  const known: Known = { campaign: new Set(), run: new Set(), sweep: new Set() }
  const campaign = (id: number): void => {
    if (known.campaign.has(id)) return
    known.campaign.add(id)
    insert('campaign', { id, name: `Recovered ${id}`, display: '', note: '', created_at: at, invented: 0 })
  }
  // A row found by its shape may be one of another table: what is not taken leaves no campaign behind.
  const inCampaign = (row: Row, take: () => boolean): boolean => {
    const id = Number(row['campaign_id'])
    const stoodIn = !known.campaign.has(id)
    campaign(id)
    if (take()) return true
    if (stoodIn) {
      remove(id)
      known.campaign.delete(id)
    }
    return false
  }
  const sweep = (capture: Row): void => {
    const id = Number(capture['sweep_id'])
    if (known.sweep.has(id)) return
    known.sweep.add(id)
    campaign(1)
    const levels = [Number(capture['level_from']), Number(capture['level_to'])].sort((a, b) => a - b)
    insert('sweep', {
      id,
      campaign_id: 1,
      plan: JSON.stringify(
        sweepPlanSchema.parse({ ...DEFAULT_PLAN, setting: 'unknown (recovered)', levels: levelsOf(levels) }),
      ),
      state: 'failed',
      reason: 'The plan of this sweep was lost; its setting, refresh rate and windows are placeholders.',
      setting: 'unknown (recovered)',
      refresh_hz: DEFAULT_PLAN.refreshHz,
      origin: version < 5 ? 'rig' : 'measured',
      created_at: at,
      rig_identity: '',
      total: 0,
      max_attempts: 1,
      ladder: null,
    })
  }
  return { inCampaign, sweep, known }
}

interface Known {
  readonly campaign: Set<number>
  readonly run: Set<number>
  readonly sweep: Set<number>
}

/** Copies all that is whole. Throws only where the new archive cannot be written. */
export function copyRows(source: DamagedArchive, target: Database.Database, at: string): CopiedRows {
  const insert = inserter(target)
  const transaction = <T>(body: () => T): T => target.transaction(body).immediate()
  const standIn = placeholders(
    insert,
    (id) => void target.prepare('DELETE FROM campaign WHERE id = ?').run(id),
    at,
    source.version,
  )
  const { known } = standIn
  const counts = { campaigns: 0, sweeps: 0, reviews: 0, notes: 0 }

  transaction(() => {
    eachRow(source, 'campaign', (row) => {
      const taken = insert('campaign', row)
      if (taken) known.campaign.add(Number(row['id']))
      return taken
    })
    eachRow(source, 'recipe', (row) => insert('recipe', row))
    copyChoices(source.db, target)
    for (const table of ['analysis', 'measure', 'phrase']) eachRow(source, table, (row) => insert(table, row))
    eachRow(source, 'run', (row) => {
      const taken = standIn.inCampaign(row, () => insert('run', row))
      if (taken) known.run.add(Number(row['id']))
      return taken
    })
    eachRow(source, 'judgement', (row) => known.campaign.has(Number(row['id'])) && insert('judgement', row))
    eachRow(source, 'plan_template', (row) => insert('plan_template', row))
    eachRow(source, 'sweep', (row) => {
      const inRun = row['run_id'] === undefined || known.run.has(Number(row['run_id']))
      const placed = inRun ? row : { ...row, run_id: null, run_position: null }
      const taken = standIn.inCampaign(row, () => insert('sweep', placed))
      if (taken) known.sweep.add(Number(row['id']))
      return taken
    })
    eachRow(source, 'reading', (row) => {
      const placed = row['sweep_id'] === null || known.sweep.has(Number(row['sweep_id']))
      return standIn.inCampaign(row, () => insert('reading', placed ? row : { ...row, sweep_id: null }))
    })
    const latencyRuns = new Set<number>()
    eachRow(source, 'latency_run', (row) => {
      // Without its reading the run counts as not ended, and is read again from its events.
      const taken = standIn.inCampaign(
        row,
        () => insert('latency_run', row) || insert('latency_run', { ...row, reading_id: null }),
      )
      if (taken) latencyRuns.add(Number(row['id']))
      return taken
    })
    eachRow(
      source,
      'latency_event',
      (row) => latencyRuns.has(Number(row['run_id'])) && isWholeEvent(row) && insert('latency_event', row),
    )
    counts.campaigns = known.campaign.size
    counts.sweeps = known.sweep.size
  })

  const captures = copyCaptures(source, target, insert, (capture) => standIn.sweep(capture))

  transaction(() => {
    const ofCapture = (row: Row): boolean => captures.has(Number(row['capture_id']))
    eachRow(source, 'review', (row) => {
      const taken = ofCapture(row) && insert('review', row)
      if (taken) counts.reviews++
      return taken
    })
    eachRow(source, 'note', (row) => {
      const taken = ofCapture(row) && insert('note', row)
      if (taken) counts.notes++
      return taken
    })
    eachRow(source, 'accepted_flag', (row) => known.sweep.has(Number(row['sweep_id'])) && insert('accepted_flag', row))
    target.exec(`
      INSERT INTO standing (capture_id, review_id, decision, override_id)
      SELECT capture_id, id, decision, CASE WHEN decision = 'override' AND marks IS NOT NULL THEN id ELSE 0 END
      FROM review v WHERE undone = 0
        AND id = (SELECT max(id) FROM review n WHERE n.capture_id = v.capture_id AND n.undone = 0)`)
    eachRow(source, 'event', (row) => {
      const placed = row['sweep_id'] === null || known.sweep.has(Number(row['sweep_id']))
      return insert('event', placed ? row : { ...row, sweep_id: null })
    })
  })
  const results = copyResults(source, target, insert, captures)
  // Captures are never deleted and numbered without gaps: what is missing below the greatest number was there.
  const greatest = [...source.ids('capture'), ...source.ids('trace')].reduce((a, b) => Math.max(a, b), 0)
  const lostCaptures = Array.from({ length: greatest }, (_, i) => i + 1).filter((id) => !captures.has(id))
  return { ...counts, captures: captures.size, lostCaptures, results }
}

/** Whether the samples of a latency event match their check value; one of before has none. */
export function isWholeEvent({ samples, second_samples: second = null, crc32: kept = null }: Row): boolean {
  if (kept === null) return true
  return (
    samples instanceof Uint8Array &&
    (second === null || second instanceof Uint8Array) &&
    crc32Of(samples, second) === kept
  )
}

/** A capture comes over whole, with samples that match their checksum, or not at all. */
function copyCaptures(
  source: DamagedArchive,
  target: Database.Database,
  insert: Insert,
  needSweep: (capture: Row) => void,
): Set<number> {
  const copied = new Set<number>()
  const wholeTrace = (id: number): Row | null => {
    for (const trace of source.rows('trace', id))
      if (trace['samples'] instanceof Uint8Array && crc32(trace['samples']) === trace['crc32']) return trace
    return null
  }
  const write = target.transaction((row: Row, trace: Row) => {
    if (!insert('capture', row) || !insert('trace', trace)) throw new Error('refused')
  })
  const copyOne = (id: number): boolean => {
    const trace = wholeTrace(id)
    if (trace === null) return false
    for (const row of source.rows('capture', id)) {
      needSweep(row)
      try {
        write(row, trace)
        return true
      } catch (error) {
        if (stops(error)) throw error
      }
    }
    return false
  }
  const ids = source.ids('capture')
  for (let next = 0; next < ids.length; next += BATCH)
    target
      .transaction(() => {
        for (const id of ids.slice(next, next + BATCH)) if (copyOne(id)) copied.add(id)
      })
      .immediate()
  return copied
}

/** Which recipes are in use; where that cannot be read, the archive opens with the default as a new one does. */
function copyChoices(source: Database.Database | null, target: Database.Database): void {
  const put = target.prepare('INSERT OR REPLACE INTO archive (key, value) VALUES (?, ?)')
  if (source === null) return
  for (const key of Object.values(IN_USE_KEYS))
    try {
      const value = source.prepare('SELECT value FROM archive WHERE key = ?').pluck().get(key)
      if (typeof value === 'string') put.run(key, value)
    } catch (error) {
      if (stops(error)) throw error
    }
}

const RESULT_PARTS = ['result_detail', 'result_reason', 'result_flag'] as const

/** Results can be computed again, so one that is not whole is left out. */
function copyResults(
  source: DamagedArchive,
  target: Database.Database,
  insert: Insert,
  captures: ReadonlySet<number>,
): number {
  const { db } = source
  if (db === null) return 0
  let copied = 0
  try {
    const parts = RESULT_PARTS.map((table) => ({
      table,
      find: db.prepare(`SELECT * FROM ${table} WHERE result_id = ?`),
    }))
    const current = new Set<unknown>(db.prepare('SELECT id FROM analysis WHERE algorithm = ?').pluck().all(ALGORITHM))
    const copy = target.transaction((row: Row) => {
      const rows = parts.map(({ table, find }) => ({ table, rows: find.all(row['id']) as Row[] }))
      const countOf = (table: string): number => rows.find((part) => part.table === table)?.rows.length ?? 0
      if (countOf('result_detail') !== 1 || countOf('result_flag') !== row['flag_count']) return
      // Earlier measuring code did not know every measure of today, and gave no reason for its absence.
      const undefinedValues = current.has(row['analysis_id']) ? MEASURE_IDS.filter((id) => row[id] === null).length : 0
      if (undefinedValues > countOf('result_reason')) return
      if (!insert('result', row)) return
      for (const part of rows) if (!part.rows.every((each) => insert(part.table, each))) throw new Error('refused')
      copied++
    })
    target
      .transaction(() => {
        eachRow(source, 'result', (row) => {
          if (!captures.has(Number(row['capture_id']))) return true
          try {
            copy(row)
          } catch (error) {
            if (stops(error)) throw error
          }
          return true
        })
      })
      .immediate()
  } catch (error) {
    if (stops(error)) throw error
  }
  return copied
}

function levelsOf(levels: readonly number[]): number[] {
  const [low = 0, high = 255] = levels
  return low === high ? [0, 255] : [low, high]
}
