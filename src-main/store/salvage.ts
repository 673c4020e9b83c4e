/** Copies everything readable of a damaged archive into a new one. Runs in the store's worker thread only. */
import Database from 'better-sqlite3'
import { existsSync, renameSync, rmSync, statSync } from 'node:fs'
import { AppError } from '#shared/domain/errors.ts'
import { absent, closeArchive, createEmpty, greatestCapture, openArchive } from './archive.ts'
import { crc32 } from '#main/core/crc32.ts'
import { lastCaptureOf } from './last-capture.ts'
import { COMPLETE, finishExchange } from './exchange.ts'
import { lockForWriting } from './lock.ts'
import { newestVersion, versionOf } from './migrate.ts'
import { MIGRATIONS } from './migrations/index.ts'
import { copyRows, isWholeEvent, RECOVERED_TABLES } from './recovery/copy-rows.ts'
import type { Row } from './recovery/cells.ts'
import { openDamaged } from './recovery/damaged-archive.ts'
import { type CopiedRows, describeSalvage, type SalvageReport } from './salvage-report.ts'
import { storeError } from './sqlite-errors.ts'

export interface SalvageSettings {
  readonly path: string
  /** Wall-clock time, ISO 8601 UTC; part of the name of the file set aside. */
  readonly at: string
}

const FILES = ['', '-wal', '-shm', '-last'] as const

/**
 * Copies into a file beside the archive first and exchanges the two when the copy is complete.
 * Rejects with `archive-locked` while another process has the file, `archive-newer` when a later version wrote it,
 * `conflict` when the archive is whole, and `not-found` when there is no such file.
 */
export function salvage(settings: SalvageSettings): SalvageReport {
  const { path } = settings
  // Looked for before the lock, which would leave a file beside what is not there.
  if (!existsSync(path) && !existsSync(path + COMPLETE)) throw absent(path)
  let release: () => void
  try {
    release = lockForWriting(path)
  } catch (error) {
    const detail = storeError(error, path)
    throw new AppError(detail.code, detail.message, detail.remedy, { cause: error })
  }
  let report: SalvageReport
  try {
    report = exchangeForCopy(settings)
  } finally {
    release()
  }
  closeArchive(openArchive({ path, algorithm: '', at: settings.at }))
  return report
}

function exchangeForCopy(settings: SalvageSettings): SalvageReport {
  const { path } = settings
  finishExchange(path)
  if (!existsSync(path)) throw absent(path)
  if (!statSync(path).isFile()) throw new AppError('invalid-input', `${path} is not a regular file.`, 'Choose another.')
  checkDamaged(path)
  const asidePath = `${path}.damaged-${settings.at.replace(/[:.]/g, '-')}`
  const copyPath = `${path}.salvage`
  for (const suffix of FILES) rmSync(copyPath + suffix, { force: true })
  rmSync(path + COMPLETE, { force: true })

  let counts: CopiedRows
  try {
    counts = copy(path, copyPath, asidePath, settings.at)
  } catch (error) {
    // The damaged archive stays where it is; half a copy is of no use.
    for (const suffix of FILES) rmSync(copyPath + suffix, { force: true })
    throw error
  }
  renameSync(copyPath, path + COMPLETE)
  for (const suffix of FILES) if (existsSync(path + suffix)) renameSync(path + suffix, asidePath + suffix)
  finishExchange(path)
  return { asidePath, ...counts }
}

/** Refuses what needs no salvage or must not be touched. */
function checkDamaged(path: string): void {
  let db: Database.Database | null = null
  try {
    db = new Database(path, { readonly: true, fileMustExist: true, timeout: 500 })
    if (versionOf(db) > newestVersion(MIGRATIONS))
      throw new AppError('archive-newer', `${path} was written by a newer version of Slewlight.`, 'Use that version.')
    if (isWhole(db) && (lastCaptureOf(path) ?? 0) <= greatestCapture(db))
      throw new AppError(
        'conflict',
        `${path} is whole: there is nothing to salvage.`,
        'Open it as it is. Nothing was changed.',
      )
  } catch (error) {
    const detail = storeError(error, path)
    if (detail.code !== 'archive-damaged') throw new AppError(detail.code, detail.message, detail.remedy)
  } finally {
    db?.close()
  }
}

/** The file as SQLite checks it, references between rows, and the checksum of every record. Throws where it cannot be read. */
function isWhole(db: Database.Database): boolean {
  if (versionOf(db) === 0) return false
  if (db.pragma('quick_check(1)', { simple: true }) !== 'ok') return false
  if ((db.pragma('foreign_key_check') as unknown[]).length > 0) return false
  for (const row of db.prepare('SELECT crc32, samples FROM trace').iterate() as Iterable<Row>)
    if (!(row['samples'] instanceof Uint8Array) || crc32(row['samples']) !== row['crc32']) return false
  // Kept since this version.
  if (versionOf(db) < 10) return true
  for (const row of db.prepare('SELECT crc32, samples, second_samples FROM latency_event').iterate() as Iterable<Row>)
    if (!isWholeEvent(row)) return false
  return true
}

function copy(path: string, copyPath: string, asidePath: string, at: string): CopiedRows {
  const source = openDamaged(path, MIGRATIONS, RECOVERED_TABLES)
  try {
    // The copy starts at the schema of the damaged file, column for column, and is raised when it is complete.
    const target = createEmpty(
      copyPath,
      MIGRATIONS.filter((migration) => migration.version <= source.version),
    )
    try {
      // Written to disk once, at the end; until then the damaged file is the archive.
      target.pragma('synchronous = OFF')
      const counts = copyRows(source, target, at)
      target
        .prepare("INSERT INTO event (at, sweep_id, level, text) VALUES (?, NULL, 'warn', ?)")
        .run(at, describeSalvage({ asidePath, ...counts }))
      target.pragma('synchronous = FULL')
      target.pragma('wal_checkpoint(TRUNCATE)')
      return counts
    } finally {
      target.close()
    }
  } finally {
    source.close()
  }
}
