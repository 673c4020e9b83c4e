/** Salvage tells a row's table by the row alone: no two tables may be taken for each other, those to come included. */
import Database from 'better-sqlite3'
import { afterAll, beforeAll, expect, it } from 'vitest'
import { closeArchive, openArchive, type Archive } from '../../src-main/store/archive.ts'
import { addMeasureColumns } from '../../src-main/store/measure-columns.ts'
import { migrate } from '../../src-main/store/migrate.ts'
import { MIGRATIONS } from '../../src-main/store/migrations/index.ts'
import { OPERATIONS } from '../../src-main/store/operations.ts'
import { isRowOf } from '../../src-main/store/recovery/contents.ts'
import { RECOVERED_TABLES } from '../../src-main/store/recovery/copy-rows.ts'
import type { Row } from '../../src-main/store/recovery/cells.ts'
import { shapesOfVersions, type TableShape } from '../../src-main/store/recovery/shapes.ts'
import { latencyPlanSchema } from '../../src-shared/domain/latency.ts'
import { DEFAULT_RECIPE } from '../../src-shared/domain/recipe.ts'
import { USUAL_JUDGEMENT } from '../../src-shared/findings/campaign/figures.ts'
import { clock, temporaryFolder, testCapture, testReading, testResult } from './fixtures.ts'
import { sweepIn } from './in-thread.ts'

/** Not looked for page by page, each for a reason. */
const LEFT_OUT: Readonly<Record<string, string>> = {
  archive: 'choices of the person, read by SQLite or taken to be the usual ones',
  analysis: 'results are only taken where SQLite still reads them: they can be computed again',
  measure: 'as analysis',
  phrase: 'as analysis',
  result: 'as analysis',
  result_detail: 'as analysis',
  result_flag: 'as analysis',
  result_reason: 'as analysis',
  standing: 'follows from the reviews',
}

const tables = (() => {
  const db = new Database(':memory:')
  migrate(db, MIGRATIONS, () => undefined)
  addMeasureColumns(db)
  const names = db.prepare("SELECT name FROM sqlite_schema WHERE type = 'table'").pluck().all() as string[]
  db.close()
  return names
})()

/** Kinds of values a column's can have: N null, I integer, R real, T text, B blob. */
function kindsOf({ type, nullable, key }: TableShape['columns'][number]): string {
  if (key) return 'N'
  const kinds = { INTEGER: 'I', REAL: 'IR', TEXT: 'T', BLOB: 'B' }[type] ?? ''
  return nullable ? `N${kinds}` : kinds
}

/** Whether some row could be of either table. */
function alike(a: TableShape, b: TableShape): boolean {
  const longest = Math.min(a.columns.length, b.columns.length)
  const shared = a.columns.slice(0, longest).map((column, i) =>
    kindsOf(column)
      .split('')
      .some((kind) => kindsOf(b.columns[i]!).includes(kind)),
  )
  const common = shared.indexOf(false) === -1 ? longest : shared.indexOf(false)
  return common >= Math.max(a.fewest, b.fewest)
}

/** Pairs that salvage could mix up by the kinds of their values: a row of the first offered to the second. */
const pairs = new Set(
  shapesOfVersions(MIGRATIONS, tables).flatMap(({ shapes }) =>
    shapes.flatMap((a) =>
      shapes
        .filter((b) => b !== a && (RECOVERED_TABLES as readonly string[]).includes(b.table) && alike(a, b))
        .map((b) => `${a.table} as ${b.table}`),
    ),
  ),
)

const NOTES = ['Lamp was on.', '60', 'null', '[]', '{}', '{"refreshHz":60}', '{"limits":{}', '']
const folder = temporaryFolder()
let archive: Archive

beforeAll(() => {
  archive = openArchive({ path: `${folder.path}/archive`, algorithm: '1', at: clock.iso() })
  const sweepId = sweepIn(archive, 1)
  OPERATIONS.saveRecipe(archive, DEFAULT_RECIPE)
  const { id: captureId } = OPERATIONS.addCapture(archive, testCapture(sweepId, 0), testResult())
  for (const text of NOTES) OPERATIONS.addNote(archive, { captureId, text, reviewer: 'A' })
  OPERATIONS.judge(archive, { campaignId: 1, judgement: USUAL_JUDGEMENT })
  const plan = latencyPlanSchema.parse({ refreshHz: 60 })
  const run = OPERATIONS.createLatencyRun(archive, { campaignId: 1, plan, rigIdentity: 'Invented' })
  const { id: readingId } = OPERATIONS.addReading(archive, testReading(1))
  OPERATIONS.endLatencyRun(archive, { runId: run.id, readingId })
})
afterAll(() => {
  closeArchive(archive)
  folder.remove()
})

it('every table is looked for in a damaged archive, or left out for a reason', () => {
  expect([...RECOVERED_TABLES, ...Object.keys(LEFT_OUT)].sort()).toEqual([...tables].sort())
})

it('rows whose values are of the same kinds are told apart by what they hold', () => {
  // Found by the schema, so that a table to come that is like another one has to be told apart here.
  expect([...pairs].sort()).toEqual(['analysis as judgement', 'latency_run as note', 'note as latency_run'])
  const columnsOf = (table: string): string[] =>
    archive.db.prepare('SELECT name FROM pragma_table_info(?)').pluck().all(table) as string[]
  for (const pair of pairs) {
    const [own = '', other = ''] = pair.split(' as ')
    const rows = archive.db.prepare(`SELECT * FROM ${own}`).all() as Row[]
    expect(rows.length, `rows of ${own}`).toBeGreaterThan(0)
    const names = columnsOf(other)
    for (const row of rows) {
      const taken = Object.fromEntries(Object.values(row).map((value, i) => [names[i] ?? '', value]))
      expect([row, isRowOf(own, row), isRowOf(other, taken)]).toEqual([row, true, false])
    }
  }
})
