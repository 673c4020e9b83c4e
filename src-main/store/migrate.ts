import type { Database } from 'better-sqlite3'
import { AppError } from '#shared/domain/errors.ts'
import type { Migration } from './migrations/index.ts'

/** Marks the file as an archive of this program ("Slew" in ASCII). */
export const APPLICATION_ID = 0x536c6577

export function newestVersion(migrations: readonly Migration[]): number {
  let version = 0
  for (const migration of migrations) {
    if (!Number.isInteger(migration.version) || migration.version <= version)
      throw new AppError('internal', `Migration ${migration.name} is out of order.`)
    version = migration.version
  }
  return version
}

export function versionOf(db: Database): number {
  return Number(db.pragma('user_version', { simple: true }))
}

/** Refuses files that a later version of the program wrote, or that belong to another program. */
export function checkVersion(db: Database, migrations: readonly Migration[], path: string): void {
  const version = versionOf(db)
  const newest = newestVersion(migrations)
  if (version > newest)
    throw new AppError(
      'archive-newer',
      `${path} was written by a newer version of Slewlight (schema ${version}; this version knows ${newest}).`,
      'Install the newer version, or open another archive. Nothing was changed.',
    )
  const tables = Number(db.prepare("SELECT count(*) FROM sqlite_schema WHERE type = 'table'").pluck().get())
  if (tables > 0 && db.pragma('application_id', { simple: true }) !== APPLICATION_ID)
    throw new AppError(
      'invalid-input',
      `${path} is a database of another program, not a Slewlight archive.`,
      'Choose another file. Nothing was changed.',
    )
}

/**
 * Brings the schema to the newest version, all steps in one transaction. `backup` runs first when an archive that
 * holds data is about to change. Answers with the version found.
 */
export function migrate(db: Database, migrations: readonly Migration[], backup: (version: number) => void): number {
  const found = versionOf(db)
  const pending = migrations.filter((migration) => migration.version > found)
  if (pending.length === 0) return found
  if (found > 0) backup(found)
  // Rebuilding a table is only possible with foreign keys off; they are checked as a whole before the commit.
  db.pragma('foreign_keys = OFF')
  try {
    db.transaction(() => {
      for (const migration of pending) {
        db.exec(migration.sql)
        db.pragma(`user_version = ${migration.version}`)
      }
      db.pragma(`application_id = ${APPLICATION_ID}`)
      const broken = db.pragma('foreign_key_check') as unknown[]
      if (broken.length > 0)
        throw new AppError(
          'archive-damaged',
          `${broken.length} rows lost their reference while the schema was upgraded.`,
        )
    }).immediate()
  } finally {
    db.pragma('foreign_keys = ON')
  }
  return found
}
