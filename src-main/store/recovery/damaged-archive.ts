/**
 * Reads the rows of a damaged archive by two ways: through SQLite as far as it still finds them, and for all others by
 * looking through every page of the file for rows of the shape the tables have. A row is lost only when a page that
 * holds a part of it is. Runs in the store's worker thread only.
 */
import Database from 'better-sqlite3'
import { PAGE_SIZE } from '../archive.ts'
import { newestVersion } from '../migrate.ts'
import type { Migration } from '../migrations/index.ts'
import { storeError } from '../sqlite-errors.ts'
import { cellsOf, type Row, type Value, valuesAt } from './cells.ts'
import { isRowOf } from './contents.ts'
import { openPageFile, type PageFile } from './page-file.ts'
import { fits, likeliestVersion, shapesOfVersions, signatureOf, type TableShape } from './shapes.ts'

export interface DamagedArchive {
  /** Schema version of the rows; the newest where nothing tells. */
  readonly version: number
  /** Null when SQLite cannot even read the list of tables. */
  readonly db: Database.Database | null
  /** Ids that rows of the table have or had, ascending; some may turn out not to be readable. */
  ids(table: string): number[]
  /** What is found under an id, likeliest first: usually one row, none when it is lost. */
  rows(table: string, id: number): Iterable<Row>
  close(): void
}

/** Place of a cell: page number and position in one number. */
const PLACES = 65_536

/** @param tables those wanted; each has an integer key. */
export function openDamaged(path: string, migrations: readonly Migration[], tables: readonly string[]): DamagedArchive {
  const db = openDatabase(path)
  const file = openPageFile(path, PAGE_SIZE)
  const versions = shapesOfVersions(migrations, tables)
  const found = scan(file, (signature) => versions.some(({ shapes }) => shapes.some((shape) => fits(signature, shape))))
  const stated = statedVersion(db, file, migrations)
  const counts = new Map([...found].map(([signature, cells]) => [signature, cells.length]))
  const schema = versions.find(({ version }) => version === stated) ?? likeliestVersion(versions, counts)
  const places = placesByTable(found, schema?.shapes ?? [])
  const shapeOf = new Map((schema?.shapes ?? []).map((shape) => [shape.table, shape]))
  // A damaged row number must not become a search without end; even the shortest capture takes a part of a page.
  const greatestId = 16 * file.pageCount

  const statements = new Map<string, Database.Statement | null>()
  const finder = (table: string): Database.Statement | null => {
    const known = statements.get(table)
    if (known !== undefined) return known
    const key = shapeOf.get(table)?.columns.find((column) => column.key)?.name ?? 'id'
    const statement = attempt(() => db?.prepare(`SELECT * FROM ${table} WHERE ${key} = ?`) ?? null)
    statements.set(table, statement)
    return statement
  }

  return {
    version: schema?.version ?? newestVersion(migrations),
    db,
    ids(table) {
      const ids = new Set(places.get(table)?.keys())
      const key = shapeOf.get(table)?.columns.find((column) => column.key)?.name ?? 'id'
      const greatest = attempt(() => Number(db?.prepare(`SELECT max(${key}) FROM ${table}`).pluck().get() ?? 0)) ?? 0
      for (let id = 1; id <= Math.min(greatest, greatestId); id++) ids.add(id)
      return [...ids].filter((id) => id >= 1 && id <= greatestId).sort((a, b) => a - b)
    },
    *rows(table, id) {
      const row = attempt(() => (finder(table)?.get(id) as Row | undefined) ?? null)
      if (row !== null) yield row
      const shape = shapeOf.get(table)
      if (shape === undefined) return
      for (const place of places.get(table)?.get(id) ?? []) {
        const values = valuesAt(file, Math.floor(place / PLACES), place % PLACES)
        const recovered = values && rowOf(shape, id, values)
        if (recovered !== null && isRowOf(table, recovered)) yield recovered
      }
    },
    close() {
      db?.close()
      file.close()
    },
  }
}

function openDatabase(path: string): Database.Database | null {
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

/** Damage is what is expected here; a disk that takes nothing more has to stop the work. */
export function stops(error: unknown): boolean {
  const { code } = storeError(error, '')
  return code === 'archive-disk-full' || code === 'archive-read-only'
}

function attempt<T>(read: () => T): T | null {
  try {
    return read()
  } catch (error) {
    if (stops(error)) throw error
    return null
  }
}

function statedVersion(db: Database.Database | null, file: PageFile, migrations: readonly Migration[]): number {
  const byDatabase = attempt(() => Number(db?.pragma('user_version', { simple: true }) ?? 0)) ?? 0
  const version = byDatabase > 0 ? byDatabase : file.userVersion
  return version <= newestVersion(migrations) ? version : 0
}

interface Found {
  readonly id: number
  readonly place: number
}

/** Cells of all pages in use, by the kinds of their values. */
function scan(file: PageFile, isWanted: (signature: string) => boolean): Map<string, Found[]> {
  const wanted = new Map<string, boolean>()
  const found = new Map<string, Found[]>()
  for (let number = 1; number <= file.pageCount; number++) {
    if (file.free.has(number)) continue
    for (const { place, cell } of cellsOf(file, number)) {
      const signature = signatureOf(cell.types)
      const known = wanted.get(signature) ?? isWanted(signature)
      wanted.set(signature, known)
      if (!known) continue
      const list = found.get(signature) ?? []
      list.push({ id: cell.rowid, place: number * PLACES + place })
      found.set(signature, list)
    }
  }
  return found
}

/** Later pages first: they are likelier the newer ones. A row whose kinds fit several tables is offered to each; the rules of the new archive decide. */
function placesByTable(
  found: ReadonlyMap<string, readonly Found[]>,
  shapes: readonly TableShape[],
): Map<string, Map<number, number[]>> {
  const tables = new Map<string, Map<number, number[]>>()
  for (const [signature, cells] of found)
    for (const shape of shapes) {
      if (!fits(signature, shape)) continue
      const places = tables.get(shape.table) ?? new Map<number, number[]>()
      tables.set(shape.table, places)
      for (const { id, place } of cells)
        places.set(
          id,
          [...(places.get(id) ?? []), place].sort((a, b) => b - a),
        )
    }
  return tables
}

/** Null when a text holds bytes no text of the program has: a part of it was overwritten. */
function rowOf({ columns }: TableShape, id: number, values: readonly Value[]): Row | null {
  const row: Row = {}
  for (const [i, value] of values.entries()) {
    const column = columns[i]
    if (column === undefined || (typeof value === 'string' && /[\0\uFFFD]/.test(value))) return null
    row[column.name] = column.key ? id : value
  }
  return row
}
