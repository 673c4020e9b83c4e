/** Which table a row without a schema belongs to, told by the kinds of its values. */
import Database from 'better-sqlite3'
import { migrate } from '../migrate.ts'
import type { Migration } from '../migrations/index.ts'

interface Column {
  readonly name: string
  readonly type: string
  readonly nullable: boolean
  /** Stands for the row number; the row itself holds nothing there. */
  readonly key: boolean
}

export interface TableShape {
  readonly table: string
  readonly columns: readonly Column[]
  /** Rows written before later columns were added have fewer values. */
  readonly fewest: number
}

export interface SchemaShapes {
  readonly version: number
  readonly shapes: readonly TableShape[]
}

/** N null, I integer, R real, T text, B blob: one letter a value, by serial type. */
export function signatureOf(types: readonly number[]): string {
  return types
    .map((type) => (type === 0 ? 'N' : type === 7 ? 'R' : type < 12 ? 'I' : type % 2 === 0 ? 'B' : 'T'))
    .join('')
}

/** The wanted tables as every version of the schema had them, newest first. */
export function shapesOfVersions(migrations: readonly Migration[], tables: readonly string[]): SchemaShapes[] {
  const found: SchemaShapes[] = []
  for (let n = 1; n <= migrations.length; n++) {
    const db = new Database(':memory:')
    try {
      migrate(db, migrations.slice(0, n), () => undefined)
      const shapes = tables.flatMap((table) => {
        const columns = columnsOf(db, table)
        return columns.length === 0 ? [] : [{ table, columns, fewest: fewestOf(table, columns, found) }]
      })
      found.unshift({ version: migrations[n - 1]?.version ?? 0, shapes })
    } finally {
      db.close()
    }
  }
  return found
}

function columnsOf(db: Database.Database, table: string): Column[] {
  const rows = db.prepare('SELECT name, type, "notnull" AS required, pk FROM pragma_table_info(?)').all(table) as {
    name: string
    type: string
    required: number
    pk: number
  }[]
  return rows.map(({ name, type, required, pk }) => ({
    name,
    type,
    nullable: required === 0,
    key: pk === 1 && type === 'INTEGER',
  }))
}

/** The shortest earlier form of the table that this one only added columns to. */
function fewestOf(table: string, columns: readonly Column[], earlier: readonly SchemaShapes[]): number {
  const forms = earlier.flatMap(({ shapes }) => shapes.filter((shape) => shape.table === table))
  const lengths = forms
    .filter((form) => form.columns.every(({ name }, i) => columns[i]?.name === name))
    .map((form) => form.columns.length)
  return Math.min(columns.length, ...lengths)
}

export function fits(signature: string, { columns, fewest }: TableShape): boolean {
  if (signature.length < fewest || signature.length > columns.length) return false
  return columns.slice(0, signature.length).every((column, i) => fitsColumn(signature[i] ?? '', column))
}

function fitsColumn(letter: string, { type, nullable, key }: Column): boolean {
  if (key) return letter === 'N'
  if (letter === 'N') return nullable
  // A real without fraction is kept as an integer (2.1 of the file format).
  if (type === 'REAL') return letter === 'R' || letter === 'I'
  return letter === { INTEGER: 'I', TEXT: 'T', BLOB: 'B' }[type]
}

/** The version most of the rows fit; the newest of equal ones. */
export function likeliestVersion(
  versions: readonly SchemaShapes[],
  counts: ReadonlyMap<string, number>,
): SchemaShapes | null {
  let best: SchemaShapes | null = null
  let most = -1
  for (const version of versions) {
    let fitting = 0
    for (const [signature, count] of counts)
      if (version.shapes.some((shape) => fits(signature, shape))) fitting += count
    if (fitting > most) [best, most] = [version, fitting]
  }
  return best
}
