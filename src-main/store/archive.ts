/** The open database of one archive: pragmas, lock, schema, damage check. Runs in the store's worker thread only. */
import Database from 'better-sqlite3'
import { accessSync, constants, existsSync, mkdirSync, statfsSync, statSync } from 'node:fs'
import { dirname } from 'node:path'
import { AppError } from '#shared/domain/errors.ts'
import { makeBackup, removeUnfinishedBackups } from './backup.ts'
import { finishExchange } from './exchange.ts'
import { anyAfter, KeptPoints, watchSweeps } from './kept-points.ts'
import { type LastCapture, lastCaptureOf, rememberLastCapture } from './last-capture.ts'
import { isLocked, lockForWriting } from './lock.ts'
import { addMeasureColumns, hasMeasureColumns } from './measure-columns.ts'
import { checkVersion, migrate, newestVersion, versionOf } from './migrate.ts'
import { MIGRATIONS, type Migration } from './migrations/index.ts'
import { SALVAGE_REMEDY, storeError } from './sqlite-errors.ts'

export interface ArchiveSettings {
  readonly path: string
  /** Version of the measuring code whose results are read and written. */
  readonly algorithm: string
  /** Wall-clock time of opening, ISO 8601 UTC. */
  readonly at: string
  /** Refuses an archive that is not there instead of creating it. */
  readonly mustExist?: boolean
}

export interface OpenReport {
  /** The archive was not closed the last time; it was checked and found whole. */
  readonly unclean: boolean
  /** Schema version found, 0 for a new archive. */
  readonly foundVersion: number
  readonly backupPath: string | null
  /** Nothing can be written: it was opened for looking at it. */
  readonly readOnly: boolean
  /** What the person must know: the log of the last use is not there; null otherwise. */
  readonly word: string | null
}

export interface Archive {
  readonly db: Database.Database
  readonly path: string
  readonly algorithm: string
  /** Wall-clock time of the request being answered, ISO 8601 UTC. */
  at: string
  /** Prepared statement of this SQL text, made once. */
  sql(text: string): Database.Statement
  /** Runs the body in one transaction that takes the write lock at once. */
  write<T>(body: () => T): T
  /**
   * The same for what can be computed again: it does not wait until the disk has it. A power cut may undo the last of
   * them, never the archive or a capture; the next capture or decision makes sure of them too.
   */
  writeDerived<T>(body: () => T): T
  /** Number of rows changed since it was opened: what was read before the number changed may be outdated. */
  changes(): number
  readonly report: OpenReport
  /** Gives up the right to write. */
  release(): void
  /** The last long list, kept so that paging through it does not order everything again for each page. */
  readonly ordered: { question: string; changes: number; ids: readonly number[] }
  readonly last: LastCapture
  /** Figures of whole sweeps, as long as nothing they rest on changes. */
  readonly points: KeptPoints
  /** Numbers of texts that are kept once; emptied when a transaction is rolled back. */
  readonly numbers: {
    readonly analysis: Map<string, number>
    readonly measure: Map<string, number>
    readonly phrase: Map<string, number>
  }
}

/** A power of two; chosen by measurement: larger pages waste more than 5 % around a 30 kB trace, smaller ones are slower. */
export const PAGE_SIZE = 1024
/** How long opening waits for another process that is just closing the archive, ms. */
const BUSY_MS = 1000
const CHECKPOINT_PAGES = (16 * 1024 * 1024) / PAGE_SIZE

function checkWritable(path: string): void {
  const folder = dirname(path)
  try {
    mkdirSync(folder, { recursive: true })
    accessSync(folder, constants.W_OK)
    if (existsSync(path)) {
      // SQLite would wait for ever on a pipe.
      if (!statSync(path).isFile())
        throw new AppError('invalid-input', `${path} is not a regular file.`, 'Choose another archive.')
      accessSync(path, constants.R_OK | constants.W_OK)
    }
  } catch (error) {
    if (error instanceof AppError) throw error
    const code = error instanceof Error && 'code' in error ? String(error.code) : ''
    throw new AppError(
      code === 'ENOSPC' ? 'archive-disk-full' : 'archive-read-only',
      `${path} cannot be written${code === '' ? '' : ` (${code})`}.`,
      code === 'ENOSPC'
        ? 'Free space on that disk and try again.'
        : 'Give yourself write permission for the file and its folder, or choose another archive.',
    )
  }
}

const NO_LOG =
  'The archive was not closed the last time, and its write-ahead log is not beside it: what was stored last may be missing. ' +
  'If the file was moved or copied, close the program and bring the file of the same name that ends in -wal along.'

function outdated(path: string, stored: number, found: number): AppError {
  return new AppError(
    'archive-damaged',
    `${path} lacks its newest captures: ${stored} were stored, ${found} are in it. Its write-ahead log, ${path}-wal, is gone or cut.`,
    'Put that file back if you moved it. Otherwise salvage the archive, which keeps what is there.',
  )
}

/** Captures are numbered without gaps; 0 where there is none. */
export function greatestCapture(db: Database.Database): number {
  if (db.prepare("SELECT 1 FROM sqlite_schema WHERE type = 'table' AND name = 'capture'").get() === undefined) return 0
  return Number(db.prepare('SELECT max(id) FROM capture').pluck().get() ?? 0)
}

function damaged(path: string, problems: readonly string[]): AppError {
  const first = problems.slice(0, 3).join('; ')
  return new AppError('archive-damaged', `${path} did not survive its last use: ${first}.`, SALVAGE_REMEDY)
}

/**
 * Opens or creates an archive and is the only one to write it until it is closed; others may read it meanwhile. Throws
 * AppError `archive-*`, `invalid-input` or `not-found`.
 */
export function openArchive(settings: ArchiveSettings, migrations: readonly Migration[] = MIGRATIONS): Archive {
  const { path, mustExist = false } = settings
  finishExchange(path)
  if (mustExist && !existsSync(path)) throw absent(path)
  checkWritable(path)
  // Looked for before SQLite makes a new one.
  const logThere = existsSync(`${path}-wal`)
  let release: (() => void) | null = null
  let db: Database.Database | null = null
  try {
    release = lockForWriting(path)
    db = new Database(path, { timeout: BUSY_MS })
    return prepare(db, release, settings, migrations, logThere)
  } catch (error) {
    db?.close()
    release?.()
    const detail = storeError(error, path)
    throw new AppError(detail.code, detail.message, detail.remedy, { cause: error })
  }
}

function prepare(
  db: Database.Database,
  release: () => void,
  settings: ArchiveSettings,
  migrations: readonly Migration[],
  logThere: boolean,
): Archive {
  const { path } = settings
  checkVersion(db, migrations, path)
  configure(db)
  const unclean = lastStateOf(db) === 'open'
  if (unclean) {
    const problems = db.pragma('quick_check(10)', { simple: false }) as { quick_check: string }[]
    if (problems.length !== 1 || problems[0]?.quick_check !== 'ok')
      throw damaged(
        path,
        problems.map((row) => row.quick_check.replace(/\s+/g, ' ')),
      )
  }
  const remembered = lastCaptureOf(path)
  if (remembered !== null && remembered > greatestCapture(db)) throw outdated(path, remembered, greatestCapture(db))
  removeUnfinishedBackups(path)
  let backupPath: string | null = null
  const foundVersion = migrate(db, migrations, (version) => {
    backupPath = makeBackup(db, path, version)
  })
  addMeasureColumns(db)
  // On a full disk the archive can still be looked at and exported.
  unlessFull(path, () => {
    markOpen(db, settings.at, foundVersion === 0)
  })

  const last = rememberLastCapture(path)
  last.note(greatestCapture(db))
  const totalChanges = db.prepare('SELECT total_changes()').pluck()
  const word = unclean && !logThere && remembered === null ? NO_LOG : null
  return archiveOver(db, settings, {
    report: { unclean, foundVersion, backupPath, word, readOnly: false },
    changes: () => Number(totalChanges.get()),
    last,
    points: new KeptPoints(watchSweeps(db)),
    release,
  })
}

/** What is said of a path where no archive is. */
export const absent = (path: string): AppError =>
  new AppError(
    'not-found',
    `There is no archive at ${path}.`,
    'Check the path: the file may have been moved or renamed.',
  )

/** Why an archive cannot be read as it is. */
type Unready = 'absent' | 'unclean' | 'earlier'

/** Null when the archive has to be opened for writing first: it is not there, of an earlier version or not whole. */
export function openReader(settings: ArchiveSettings): Archive | null {
  finishExchange(settings.path)
  const found = readerOf(settings)
  return typeof found === 'string' ? null : found
}

/** Opens an archive of which nothing may change; one that would have to be made ready first is refused with the reason. */
export function openUntouched(settings: ArchiveSettings): Archive {
  const found = readerOf(settings)
  if (typeof found !== 'string') return found
  const { path } = settings
  const open = `Open it once with this version: slewlight show campaigns --archive "${path}"`
  if (found === 'absent') throw absent(path)
  if (found === 'unclean')
    throw new AppError('conflict', `${path} was not closed properly and has to be checked.`, open)
  throw new AppError('conflict', `${path} was written by an earlier version of Slewlight.`, `${open}. A copy is kept.`)
}

function readerOf(settings: ArchiveSettings): Archive | Unready {
  const { path } = settings
  let db: Database.Database | null = null
  try {
    if (!existsSync(path) || !statSync(path).isFile()) return 'absent'
    const inUse = isLocked(path)
    db = new Database(path, { readonly: true, fileMustExist: true, timeout: BUSY_MS })
    db.pragma('trusted_schema = OFF')
    db.pragma('temp_store = MEMORY')
    checkVersion(db, MIGRATIONS, path)
    // Left open by a program that is gone: it has to be checked, which is done when it is opened for writing.
    const unclean = !inUse && lastStateOf(db) !== 'closed'
    if (unclean || versionOf(db) < newestVersion(MIGRATIONS) || !hasMeasureColumns(db)) {
      db.close()
      removeReaderFiles(path)
      return unclean ? 'unclean' : 'earlier'
    }
    // Moves with every change that another program makes.
    const dataVersion = db.prepare('PRAGMA data_version').pluck()
    return archiveOver(db, settings, {
      report: { unclean: false, foundVersion: versionOf(db), backupPath: null, word: null, readOnly: true },
      changes: () => Number(dataVersion.get()),
      points: new KeptPoints(anyAfter(() => Number(dataVersion.get()))),
      last: { note: () => undefined, close: () => undefined },
      release: () => removeReaderFiles(path),
    })
  } catch (error) {
    db?.close()
    removeReaderFiles(path)
    const detail = storeError(error, path)
    throw new AppError(detail.code, detail.message, detail.remedy, { cause: error })
  }
}

/**
 * SQLite leaves the files beside the archive that even a reader needs, unless the last to close it may write. An empty
 * log is all that is taken away; where that is not allowed, the next program that writes does it.
 */
function removeReaderFiles(path: string): void {
  let release: (() => void) | null = null
  let db: Database.Database | null = null
  try {
    if (statSync(`${path}-wal`).size > 0) return
    // Nobody writes where there is no such file, and none is left there.
    if (existsSync(`${path}-lock`)) release = lockForWriting(path, 0)
    db = new Database(path, { fileMustExist: true, timeout: 0 })
    db.prepare('SELECT count(*) FROM sqlite_schema').get()
  } catch {
    // Damaged, in use, or not ours to write: nothing is lost by it.
  } finally {
    db?.close()
    release?.()
  }
}

function archiveOver(
  db: Database.Database,
  { path, algorithm, at }: ArchiveSettings,
  kept: Pick<Archive, 'report' | 'changes' | 'last' | 'points' | 'release'>,
): Archive {
  const statements = new Map<string, Database.Statement>()
  const numbers = {
    analysis: new Map<string, number>(),
    measure: new Map<string, number>(),
    phrase: new Map<string, number>(),
  }
  const newest = db.prepare('SELECT max(id) FROM capture').pluck()
  function write<T>(body: () => T): T {
    try {
      const value = db.transaction(body).immediate()
      kept.last.note(Number(newest.get() ?? 0))
      return value
    } catch (error) {
      numbers.analysis.clear()
      numbers.measure.clear()
      numbers.phrase.clear()
      throw error
    }
  }

  return {
    ...kept,
    db,
    ordered: { question: '', changes: -1, ids: [] },
    path,
    algorithm,
    at,
    sql(text) {
      let statement = statements.get(text)
      if (statement === undefined) {
        statement = db.prepare(text)
        statements.set(text, statement)
      }
      return statement
    },
    write,
    writeDerived(body) {
      db.pragma('synchronous = NORMAL')
      try {
        return write(body)
      } finally {
        db.pragma('synchronous = FULL')
      }
    },
    numbers,
  }
}

function markOpen(db: Database.Database, at: string, created: boolean): void {
  const mark = db.prepare('INSERT OR REPLACE INTO archive (key, value) VALUES (?, ?)')
  db.transaction(() => {
    mark.run('state', 'open')
    mark.run('opened_at', at)
    if (created) mark.run('created_at', at)
  }).immediate()
}

function configure(db: Database.Database): void {
  db.pragma('trusted_schema = OFF')
  db.pragma('cell_size_check = ON')
  db.pragma(`page_size = ${PAGE_SIZE}`)
  db.pragma('journal_mode = WAL')
  db.pragma('synchronous = FULL')
  db.pragma('foreign_keys = ON')
  db.pragma('temp_store = MEMORY')
  db.pragma('cache_size = -32768')
  db.pragma(`wal_autocheckpoint = ${CHECKPOINT_PAGES}`)
  db.pragma('journal_size_limit = 4194304')
}

/** A new database with the schema of the given migrations, not marked as in use. The file must not exist. */
export function createEmpty(path: string, migrations: readonly Migration[]): Database.Database {
  checkWritable(path)
  const db = new Database(path)
  configure(db)
  migrate(db, migrations, () => undefined)
  addMeasureColumns(db)
  return db
}

function lastStateOf(db: Database.Database): string | null {
  const known = db.prepare("SELECT 1 FROM sqlite_schema WHERE type = 'table' AND name = 'archive'").get()
  if (known === undefined) return null
  const value = db.prepare("SELECT value FROM archive WHERE key = 'state'").pluck().get()
  return typeof value === 'string' ? value : null
}

/**
 * Marks a clean end, folds the write-ahead log into the file and closes. On a full disk the mark is left out, so that the
 * next opening checks the archive; everything acknowledged is safe in the log.
 */
export function closeArchive(archive: Archive): void {
  try {
    if (archive.report.readOnly) return
    unlessFull(archive.path, () => {
      archive.sql("INSERT OR REPLACE INTO archive (key, value) VALUES ('state', 'closed')").run()
    })
    checkpoint(archive)
  } finally {
    archive.db.close()
    archive.last.close(!existsSync(`${archive.path}-wal`))
    archive.release()
  }
}

/** Folds the write-ahead log into the file. Left for later while the disk has no room for both. */
export function checkpoint(archive: Archive): void {
  if (!hasRoom(archive.path)) return
  unlessFull(archive.path, () => {
    archive.db.pragma('wal_checkpoint(TRUNCATE)')
  })
}

function unlessFull(path: string, body: () => void): void {
  try {
    body()
  } catch (error) {
    if (storeError(error, path).code !== 'archive-disk-full') throw error
  }
}

/** An attempt that fails halfway would take the last free bytes from the captures still to come. */
function hasRoom(path: string): boolean {
  try {
    const { bavail, bsize } = statfsSync(dirname(path))
    return bavail * bsize > statSync(`${path}-wal`).size
  } catch {
    return true
  }
}
