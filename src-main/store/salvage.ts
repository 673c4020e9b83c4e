/** Copies everything readable of a damaged archive into a new one. Runs in the store's worker thread only. */
import Database from 'better-sqlite3'
import { existsSync, renameSync, rmSync } from 'node:fs'
import { AppError } from '#shared/domain/errors.ts'
import { MEASURE_IDS } from '#shared/domain/measures.ts'
import { DEFAULT_PLAN, sweepPlanSchema } from '#shared/domain/plan.ts'
import { ALGORITHM } from '#shared/domain/result.ts'
import { closeArchive, createEmpty, openArchive } from './archive.ts'
import { crc32 } from './crc32.ts'
import { IN_USE_KEYS } from './queries/in-use.ts'
import { newestVersion, versionOf } from './migrate.ts'
import { MIGRATIONS } from './migrations/index.ts'
import { storeError } from './sqlite-errors.ts'

export interface SalvageSettings {
  readonly path: string
  /** Wall-clock time, ISO 8601 UTC; part of the name of the file set aside. */
  readonly at: string
}

export interface SalvageReport {
  /** Where the damaged file is now. */
  readonly asidePath: string
  readonly campaigns: number
  readonly sweeps: number
  readonly captures: number
  /** Captures that were there but whose record or samples could not be read unharmed. */
  readonly lostCaptures: readonly number[]
  readonly results: number
  readonly reviews: number
  readonly notes: number
}

type Row = Record<string, string | number | Uint8Array | null>

/** Ids tried in vain, one after the other, where not even the greatest id of a table can be read. */
const BLIND_FAILURES = 20_000
const BATCH = 200

function checkFree(path: string): number {
  let probe: Database.Database | null = null
  try {
    probe = new Database(path, { readonly: true, fileMustExist: true, timeout: 500 })
    return versionOf(probe)
  } catch (error) {
    const detail = storeError(error, path)
    if (detail.code !== 'archive-damaged') throw new AppError(detail.code, detail.message, detail.remedy)
    return 0
  } finally {
    probe?.close()
  }
}

/**
 * Copies into a file beside the archive first and exchanges the two when the copy is complete.
 * Rejects with `archive-locked` while another process has the file, `archive-newer` when a later version wrote it, and
 * `not-found` when there is no such file.
 */
export function salvage(settings: SalvageSettings): SalvageReport {
  const { path } = settings
  if (!existsSync(path)) throw new AppError('not-found', `There is no archive at ${path}.`)
  const version = checkFree(path)
  if (version > newestVersion(MIGRATIONS))
    throw new AppError('archive-newer', `${path} was written by a newer version of Slewlight.`, 'Use that version.')
  const asidePath = `${path}.damaged-${settings.at.replace(/[:.]/g, '-')}`
  const copyPath = `${path}.salvage`
  for (const suffix of FILES) rmSync(copyPath + suffix, { force: true })

  let counts: Omit<SalvageReport, 'asidePath'>
  try {
    counts = copy(path, copyPath, version, settings.at)
  } catch (error) {
    // The damaged archive stays where it is; half a copy is of no use.
    for (const suffix of FILES) rmSync(copyPath + suffix, { force: true })
    throw error
  }
  for (const suffix of FILES) {
    if (existsSync(path + suffix)) renameSync(path + suffix, asidePath + suffix)
    if (existsSync(copyPath + suffix)) renameSync(copyPath + suffix, path + suffix)
  }
  closeArchive(openArchive({ path, algorithm: '', at: settings.at }))
  return { asidePath, ...counts }
}

const FILES = ['', '-wal', '-shm'] as const

function copy(path: string, copyPath: string, version: number, at: string): Omit<SalvageReport, 'asidePath'> {
  // The copy starts at the schema of the damaged file, column for column, and is raised when it is complete.
  const migrations = MIGRATIONS.filter((migration) => version === 0 || migration.version <= version)
  const target = createEmpty(copyPath, migrations)
  const source = openDamaged(path)
  try {
    // Written to disk once, at the end; until then the damaged file is the archive.
    target.pragma('synchronous = OFF')
    const counts = source === null ? NOTHING : copyAll(source, target, at)
    target.pragma('synchronous = FULL')
    target.pragma('wal_checkpoint(TRUNCATE)')
    return counts
  } finally {
    source?.close()
    target.close()
  }
}

const NOTHING: Omit<SalvageReport, 'asidePath'> = {
  campaigns: 0,
  sweeps: 0,
  captures: 0,
  lostCaptures: [],
  results: 0,
  reviews: 0,
  notes: 0,
}

/** Null when not even the list of tables can be read. */
function openDamaged(path: string): Database.Database | null {
  let db: Database.Database | null = null
  try {
    db = new Database(path, { readonly: true, fileMustExist: true })
    db.prepare('SELECT count(*) FROM sqlite_schema').get()
    return db
  } catch {
    db?.close()
    return null
  }
}

/** Where else the greatest key of a table can be read when its own last page cannot. */
const OTHER_MAXIMA: Readonly<Record<string, readonly string[]>> = {
  capture: ['SELECT max(capture_id) FROM trace'],
  result: ['SELECT max(result_id) FROM result_detail', 'SELECT max(result_id) FROM result_reason'],
}

function greatestKey(source: Database.Database, table: string): number | null {
  for (const query of [`SELECT max(id) FROM ${table}`, ...(OTHER_MAXIMA[table] ?? [])])
    try {
      return Number(source.prepare(query).pluck().get() ?? 0)
    } catch {
      continue
    }
  return null
}

/**
 * Calls `take` with every readable row of a table, in order of its id, and `lost` with ids that cannot be read. Where no
 * greatest id is known, it tries on until nothing was readable for long.
 */
function eachRow(
  source: Database.Database,
  table: string,
  take: (row: Row) => void,
  lost: (id: number) => void = () => undefined,
): void {
  let find: Database.Statement
  try {
    find = source.prepare(`SELECT * FROM ${table} WHERE id = ?`)
  } catch {
    return
  }
  const greatest = greatestKey(source, table)
  let failures = 0
  for (let id = 1; greatest === null ? failures < BLIND_FAILURES : id <= greatest; id++) {
    failures++
    try {
      const row = find.get(id) as Row | undefined
      if (row === undefined) continue
      failures = 0
      take(row)
    } catch (error) {
      if (stops(error)) throw error
      if (greatest !== null) lost(id)
    }
  }
}

/** Damage is what is expected here; a disk that takes nothing more has to stop the work. */
function stops(error: unknown): boolean {
  const { code } = storeError(error, '')
  return code === 'archive-disk-full' || code === 'archive-read-only'
}

function inserter(target: Database.Database): (table: string, row: Row) => boolean {
  const statements = new Map<string, Database.Statement>()
  const known = new Map<string, ReadonlySet<string>>()
  const columnsOf = (table: string): ReadonlySet<string> => {
    const found =
      known.get(table) ??
      new Set(target.prepare('SELECT name FROM pragma_table_info(?)').pluck().all(table) as string[])
    known.set(table, found)
    return found
  }
  return (table, row) => {
    // Placeholders name columns of every version of the schema; a row read from a table has its own.
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

function copyAll(source: Database.Database, target: Database.Database, at: string): Omit<SalvageReport, 'asidePath'> {
  const insert = inserter(target)
  const counts = { campaigns: 0, sweeps: 0, captures: 0, results: 0, reviews: 0, notes: 0 }
  const lost = new Set<number>()
  const ids = { campaign: new Set<number>(), sweep: new Set<number>(), capture: new Set<number>() }
  const transaction = <T>(body: () => T): T => target.transaction(body).immediate()

  const orphanCampaign = (id: number): void => {
    if (ids.campaign.has(id)) return
    ids.campaign.add(id)
    insert('campaign', { id, name: `Recovered ${id}`, display: '', note: '', created_at: at, invented: 0 })
  }
  const orphanSweep = (capture: Row): void => {
    const id = Number(capture['sweep_id'])
    if (ids.sweep.has(id)) return
    ids.sweep.add(id)
    orphanCampaign(1)
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
      origin: versionOf(target) < 5 ? 'rig' : 'measured',
      created_at: at,
      rig_identity: '',
      total: 0,
      max_attempts: 1,
      ladder: null,
    })
  }

  transaction(() => {
    eachRow(source, 'campaign', (row) => {
      if (insert('campaign', row)) ids.campaign.add(Number(row['id']))
    })
    eachRow(source, 'recipe', (row) => insert('recipe', row))
    copyChoices(source, target)
    eachRow(source, 'analysis', (row) => insert('analysis', row))
    eachRow(source, 'measure', (row) => insert('measure', row))
    eachRow(source, 'phrase', (row) => insert('phrase', row))
    eachRow(source, 'sweep', (row) => {
      orphanCampaign(Number(row['campaign_id']))
      if (insert('sweep', row)) ids.sweep.add(Number(row['id']))
    })
    counts.campaigns = ids.campaign.size
    counts.sweeps = ids.sweep.size
  })

  const readTrace = source.prepare('SELECT * FROM trace WHERE capture_id = ?')
  const copyCapture = (row: Row): boolean => {
    const trace = readTrace.get(row['id']) as Row | undefined
    const samples = trace?.['samples']
    if (trace === undefined || !(samples instanceof Uint8Array)) return false
    if (crc32(samples) !== trace['crc32']) return false
    orphanSweep(row)
    if (!insert('capture', row) || !insert('trace', trace)) throw new Error('refused')
    return true
  }
  let batch: Row[] = []
  const flush = (): void => {
    const rows = batch
    batch = []
    transaction(() => {
      for (const row of rows) {
        const id = Number(row['id'])
        // Its own savepoint: a capture comes over whole or not at all.
        try {
          if (target.transaction(() => copyCapture(row))()) ids.capture.add(id)
          else lost.add(id)
        } catch (error) {
          if (stops(error)) throw error
          lost.add(id)
        }
      }
    })
  }
  eachRow(
    source,
    'capture',
    (row) => {
      batch.push(row)
      if (batch.length >= BATCH) flush()
    },
    (id) => lost.add(id),
  )
  flush()
  counts.captures = ids.capture.size

  transaction(() => {
    eachRow(source, 'review', (row) => {
      if (ids.capture.has(Number(row['capture_id'])) && insert('review', row)) counts.reviews++
    })
    eachRow(source, 'note', (row) => {
      if (ids.capture.has(Number(row['capture_id'])) && insert('note', row)) counts.notes++
    })
    target.exec(`
      INSERT INTO standing (capture_id, review_id, decision, override_id)
      SELECT capture_id, id, decision, CASE WHEN decision = 'override' AND marks IS NOT NULL THEN id ELSE 0 END
      FROM review v WHERE undone = 0
        AND id = (SELECT max(id) FROM review n WHERE n.capture_id = v.capture_id AND n.undone = 0)`)
    eachRow(source, 'event', (row) => {
      const known = row['sweep_id'] === null || ids.sweep.has(Number(row['sweep_id']))
      insert('event', known ? row : { ...row, sweep_id: null })
    })
  })
  counts.results = copyResults(source, target, insert, ids.capture)
  return { ...counts, lostCaptures: [...lost].sort((a, b) => a - b) }
}

/** Which recipes are in use; where that cannot be read, the archive opens with the default as a new one does. */
function copyChoices(source: Database.Database, target: Database.Database): void {
  const put = target.prepare('INSERT OR REPLACE INTO archive (key, value) VALUES (?, ?)')
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
  source: Database.Database,
  target: Database.Database,
  insert: (table: string, row: Row) => boolean,
  captures: ReadonlySet<number>,
): number {
  let copied = 0
  try {
    const parts = RESULT_PARTS.map((table) => ({
      table,
      find: source.prepare(`SELECT * FROM ${table} WHERE result_id = ?`),
    }))
    const current = new Set<unknown>(
      source.prepare('SELECT id FROM analysis WHERE algorithm = ?').pluck().all(ALGORITHM),
    )
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
          if (!captures.has(Number(row['capture_id']))) return
          try {
            copy(row)
          } catch (error) {
            if (stops(error)) throw error
          }
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
