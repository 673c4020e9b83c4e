/**
 * Randomly damaged archives. Which pages hold a capture is told by SQLite's own `dbstat` table on the whole archive, so
 * the expectation shares nothing with the code under test: a capture none of whose pages was touched has to come back.
 */
import { existsSync, readFileSync, rmSync, writeFileSync } from 'node:fs'
import type Database from 'better-sqlite3'
import { afterAll, beforeAll, expect, it } from 'vitest'
import { closeArchive, openArchive, PAGE_SIZE, type Archive } from '../../src-main/store/archive.ts'
import { OPERATIONS } from '../../src-main/store/operations.ts'
import { describeSalvage, type SalvageReport } from '../../src-main/store/salvage-report.ts'
import { salvage } from '../../src-main/store/salvage.ts'
import { AppError } from '../../src-shared/domain/errors.ts'
import { DEFAULT_RECIPE } from '../../src-shared/domain/recipe.ts'
import { seededRandom } from '../../src-shared/domain/seeded-random.ts'
import { clock, filter, temporaryFolder, testCapture, testResult, testTrace } from './fixtures.ts'
import { sweepIn } from './in-thread.ts'
import { SEED } from '../support/seed.ts'

const ARCHIVES = 200
const CAPTURES = 40
const SAMPLES = 900
const folder = temporaryFolder()
const path = `${folder.path}/archive`

interface Original {
  readonly file: Buffer
  /** The write-ahead log beside it, of a program that was killed. */
  readonly log: Buffer | null
  /** Capture id → pages that hold a part of it. */
  readonly pages: ReadonlyMap<number, readonly number[]>
  /** Root pages of all tables and indexes. */
  readonly roots: readonly number[]
  /** Pages whose newest version is in the log: damage to the file does not reach them. */
  readonly logged: ReadonlySet<number>
}
const originals: Original[] = []

beforeAll(() => {
  for (const killed of [false, true]) {
    const archive = openArchive({ path, algorithm: '1', at: clock.iso() })
    archive.db.pragma('synchronous = OFF')
    fill(archive, 0, CAPTURES / 2)
    archive.db.pragma('wal_checkpoint(TRUNCATE)')
    fill(archive, CAPTURES / 2, CAPTURES)
    if (!killed) closeArchive(archive)
    const whole = killed ? archive : openArchive({ path, algorithm: '1', at: clock.iso() })
    const pages = pagesOfCaptures(whole.db)
    const roots = whole.db.prepare('SELECT rootpage FROM sqlite_schema WHERE rootpage > 0').pluck().all() as number[]
    if (!killed) closeArchive(whole)
    const log = killed ? readFileSync(`${path}-wal`) : null
    originals.push({ file: readFileSync(path), log, pages, roots, logged: loggedPages(log) })
    if (killed) closeArchive(archive)
    for (const suffix of ['', '-wal', '-shm']) rmSync(path + suffix, { force: true })
  }
})
afterAll(() => {
  folder.remove()
})

function fill(archive: Archive, from: number, to: number): void {
  if (from === 0) {
    OPERATIONS.saveRecipe(archive, DEFAULT_RECIPE)
    sweepIn(archive, CAPTURES)
  }
  for (let position = from; position < to; position++)
    OPERATIONS.addCapture(
      archive,
      testCapture(1, position, { trace: testTrace(position, SAMPLES) }),
      testResult({ snr: position }),
    )
}

interface Stat {
  readonly path: string
  readonly pageno: number
  readonly pagetype: 'internal' | 'leaf' | 'overflow'
  readonly ncell: number
}

/** Leaves are in the order of their paths and of their rows; an overflow page's path is that of its leaf and the cell's number. */
function pagesOfCaptures(db: Database.Database): Map<number, number[]> {
  const pages = new Map<number, number[]>()
  for (const [table, key] of [
    ['capture', 'id'],
    ['trace', 'capture_id'],
  ] as const) {
    const ids = db.prepare(`SELECT ${key} FROM ${table} ORDER BY ${key}`).pluck().all() as number[]
    const stats = db
      .prepare('SELECT path, pageno, pagetype, ncell FROM dbstat WHERE name = ? ORDER BY path')
      .all(table) as Stat[]
    const add = (id: number | undefined, page: number): void => {
      if (id === undefined) throw new Error('A cell without a row.')
      pages.set(id, [...(pages.get(id) ?? []), page])
    }
    const firsts = new Map<string, number>()
    let row = 0
    for (const leaf of stats.filter(({ pagetype }) => pagetype === 'leaf')) {
      firsts.set(leaf.path, row)
      for (let cell = 0; cell < leaf.ncell; cell++) add(ids[row + cell], leaf.pageno)
      row += leaf.ncell
    }
    expect(row).toBe(ids.length)
    for (const { path: place, pageno } of stats.filter(({ pagetype }) => pagetype === 'overflow')) {
      const [, leaf = '', cell = ''] = /^(.*\/)([0-9a-f]{3})\+[0-9a-f]{6}$/.exec(place) ?? []
      add(ids[(firsts.get(leaf) ?? NaN) + Number.parseInt(cell, 16)], pageno)
    }
  }
  return pages
}

function loggedPages(log: Buffer | null): Set<number> {
  const pages = new Set<number>()
  if (log === null) return pages
  for (let at = 32; at + 24 + PAGE_SIZE <= log.length; at += 24 + PAGE_SIZE) pages.add(log.readUInt32BE(at))
  return pages
}

/** Damages the bytes in one of five ways, or several; answers with what is left and the pages touched. */
function damage({ file, roots }: Original, next: () => number): { bytes: Buffer; touched: Set<number> } {
  let bytes = Buffer.from(file)
  const touched = new Set<number>()
  const pageCount = file.length / PAGE_SIZE
  const anyPage = (): number => 1 + Math.floor(pageCount * next())
  const overwrite = (page: number, fill: () => number): void => {
    touched.add(page)
    for (let i = 0; i < PAGE_SIZE; i++) bytes[(page - 1) * PAGE_SIZE + i] = fill()
  }
  const zeros = (): number => 0
  const junk = (): number => Math.floor(256 * next())
  for (let kind = Math.floor(5 * next()); kind >= 0; kind = next() < 0.4 ? Math.floor(5 * next()) : -1) {
    if (kind === 0) {
      // At any byte, up to a third of the file.
      bytes = bytes.subarray(0, Math.floor(bytes.length * (1 - next() / 3)))
      for (let page = Math.floor(bytes.length / PAGE_SIZE) + 1; page <= pageCount; page++) touched.add(page)
    } else if (kind === 1) for (let n = Math.ceil(6 * next()); n > 0; n--) overwrite(anyPage(), zeros)
    else if (kind === 2) for (let n = Math.ceil(6 * next()); n > 0; n--) overwrite(anyPage(), junk)
    else if (kind === 3) for (let n = Math.ceil(4 * next()); n > 0; n--) overwrite(pick(roots, next), zeros)
    else for (let page = 1 + Math.floor(4 * next()); page >= 1; page--) overwrite(page, zeros)
  }
  return { bytes, touched }
}

/** Null where the damage met nothing that is in use, so that the archive is whole. */
function salvageOrWhole(at: string): SalvageReport | null {
  try {
    return salvage({ path, at })
  } catch (error) {
    if (error instanceof AppError && error.code === 'conflict') return null
    throw error
  }
}

function pick(from: readonly number[], next: () => number): number {
  return from[Math.floor(from.length * next())] ?? 1
}

it(`brings every capture back whose pages are whole, of ${ARCHIVES} randomly damaged archives`, () => {
  const seed = SEED
  process.stdout.write(`damaged archives: seed ${seed}\n`)
  const sums = { whole: 0, back: 0, touched: 0, refused: 0 }
  for (let run = 0; run < ARCHIVES; run++) {
    const next = seededRandom(seed + 7919 * run)
    const original = originals[run % 3 === 0 ? 1 : 0]
    if (original === undefined) throw new Error('No archive.')
    const { bytes, touched } = damage(original, next)
    writeFileSync(path, bytes)
    if (original.log !== null) writeFileSync(`${path}-wal`, original.log)
    const reached = (page: number): boolean => touched.has(page) && !original.logged.has(page)
    const whole = [...original.pages].filter(([, pages]) => !pages.some(reached)).map(([id]) => id)
    const report = salvageOrWhole(`run ${run}`)

    const archive = openArchive({ path, algorithm: '1', at: clock.iso() })
    const rows = OPERATIONS.captures(archive, filter({ limit: 5000 })).rows
    for (const { info } of rows) expect(OPERATIONS.trace(archive, info.id)).toEqual(testTrace(info.position, SAMPLES))
    const back = rows.map(({ info }) => info.id)
    const missed = whole.filter((id) => !back.includes(id))
    expect({ seed, run, missed }).toEqual({ seed, run, missed: [] })
    const event = OPERATIONS.events(archive, { limit: 1 })[0]?.text
    if (report === null) expect(back).toHaveLength(CAPTURES)
    closeArchive(archive)
    for (const suffix of ['', '-wal', '-shm']) rmSync(path + suffix, { force: true })
    sums.whole += whole.length
    sums.back += back.length
    sums.touched += touched.size
    if (report === null) {
      sums.refused += 1
      continue
    }
    expect({ seed, run, told: report.captures }).toEqual({ seed, run, told: back.length })
    const greatest = Math.max(0, ...back)
    const lost = Array.from({ length: greatest }, (_, i) => i + 1).filter((id) => !back.includes(id))
    expect(report.lostCaptures.filter((id) => id <= greatest)).toEqual(lost)
    expect(event).toBe(describeSalvage(report))
    expect(existsSync(report.asidePath)).toBe(true)
    for (const suffix of ['', '-wal', '-shm']) rmSync(report.asidePath + suffix, { force: true })
  }
  process.stdout.write(
    `damaged archives: ${ARCHIVES} of ${CAPTURES} captures, ${sums.touched} pages damaged, ` +
      `${sums.whole} captures untouched, ${sums.back} back, ${sums.refused} archives refused because the damage met nothing in use\n`,
  )
  expect(sums.whole).toBeLessThan(ARCHIVES * CAPTURES)
})
