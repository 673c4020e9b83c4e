/** Columns of results: one for each measure of the catalogue, made when an archive is opened that lacks it. */
import type Database from 'better-sqlite3'
import { MEASURE_IDS } from '#shared/domain/measures.ts'

/** Standard uncertainty of a measure, and its part that does not average over repeats, in `result_detail`. */
export const uncertaintyColumn = <M extends string>(measure: M): `u_${M}` => `u_${measure}`
export const commonColumn = <M extends string>(measure: M): `c_${M}` => `c_${measure}`

const columnsOf = (db: Database.Database, table: string): string[] =>
  db.prepare('SELECT name FROM pragma_table_info(?)').pluck().all(table) as string[]

function missing(db: Database.Database): { table: 'result' | 'result_detail'; column: string }[] {
  const result = new Set(columnsOf(db, 'result'))
  const detail = new Set(columnsOf(db, 'result_detail'))
  return MEASURE_IDS.flatMap((id) => [
    ...(result.has(id) ? [] : [{ table: 'result' as const, column: id }]),
    ...[uncertaintyColumn(id), commonColumn(id)]
      .filter((column) => !detail.has(column))
      .map((column) => ({ table: 'result_detail' as const, column })),
  ])
}

export const hasMeasureColumns = (db: Database.Database): boolean => missing(db).length === 0

/**
 * Adds the columns of measures the archive does not know yet; what was measured before has no value in them. SQLite does
 * this without touching a row, and earlier versions of the program leave such columns alone, so it is no migration.
 */
export function addMeasureColumns(db: Database.Database): void {
  const columns = missing(db)
  if (columns.length === 0) return
  db.transaction(() => {
    for (const { table, column } of columns) db.exec(`ALTER TABLE ${table} ADD COLUMN ${column} REAL`)
    const fixed = columnsOf(db, 'result').filter((column) => column !== 'flag_count')
    db.exec(`
      DROP TRIGGER result_fixed;
      CREATE TRIGGER result_fixed BEFORE UPDATE OF ${fixed.join(', ')} ON result
        BEGIN SELECT RAISE(ABORT, 'results are never changed'); END;`)
  }).immediate()
}
