/** Raising the schema: in order, all or nothing, with a copy kept; newer and foreign files are refused. */
import { createHash } from 'node:crypto'
import { readdirSync, readFileSync, statSync } from 'node:fs'
import Database from 'better-sqlite3'
import { describe, expect, it } from 'vitest'
import { AppError } from '../../src-shared/domain/errors.ts'
import { MEASURE_IDS } from '../../src-shared/domain/measures.ts'
import { type Archive, closeArchive, openArchive } from '../../src-main/store/archive.ts'
import { APPLICATION_ID, newestVersion } from '../../src-main/store/migrate.ts'
import { type Migration, MIGRATIONS } from '../../src-main/store/migrations/index.ts'
import {
  clock,
  collectingLog,
  HASH,
  openTestStore,
  testCapture,
  testReading,
  testResult,
  testSweep,
  testTrace,
} from './fixtures.ts'
import { archivePerTest } from './per-test.ts'

const on = archivePerTest()

const open = (migrations?: readonly Migration[]): Archive =>
  openArchive({ path: on.path, algorithm: '1', at: clock.iso() }, migrations)

const NEXT: Migration = {
  version: newestVersion(MIGRATIONS) + 5,
  name: 'invented',
  sql: "ALTER TABLE campaign ADD COLUMN place TEXT NOT NULL DEFAULT ''; CREATE TABLE extra (id INTEGER PRIMARY KEY) STRICT;",
}

const FIXTURE_HASH = '2080d6b875ebd0fd'

/** An archive as the first version wrote it: its frozen schema and rows put in by hand. */
function writeVersionOne(): void {
  const db = new Database(on.path)
  db.pragma('page_size = 1024')
  db.pragma('journal_mode = WAL')
  db.exec(MIGRATIONS[0]?.sql ?? '')
  db.pragma('user_version = 1')
  db.pragma(`application_id = ${APPLICATION_ID}`)
  db.pragma('foreign_keys = OFF')
  db.exec(readFileSync(new URL('./rows-1.sql', import.meta.url), 'utf8'))
  db.close()
}

describe('schema', () => {
  /** SHA-256 of each step that has shipped: archives of it exist. */
  const FROZEN: Readonly<Record<number, string>> = {
    1: 'e308d068400c0120',
    2: '0d80d96c050ba213',
    3: 'c0a84f142d045226',
    4: 'ded96f121df8d6e3',
    5: '680143c66405312d',
    6: '8ec74396c327e746',
    7: '550ba8d9a96e43b0',
    8: 'a04d5e8afff402d4',
    9: 'c259ce39a5166683',
    10: '00e82c6b59d2e894',
  }

  it.each(MIGRATIONS)('of version $version is frozen', ({ version, sql }) => {
    expect(createHash('sha256').update(sql).digest('hex').slice(0, 16)).toBe(FROZEN[version])
  })

  it('has a column and an uncertainty for every measure, without a migration for a new one', async () => {
    // As an archive of before the measure was thought of: with results, and without its columns.
    const store = await openTestStore(on.path)
    const { sweepId } = await testSweep(store)
    const { id } = await store.addCapture(testCapture(sweepId, 0), testResult({ arrival_s: 0.25 }))
    await store.close()
    const before = new Database(on.path)
    before.exec(`DROP TRIGGER result_fixed;
      CREATE TRIGGER result_fixed BEFORE UPDATE OF snr ON result BEGIN SELECT RAISE(ABORT, 'never'); END;
      ALTER TABLE result DROP COLUMN ripple_depth_pct;
      ALTER TABLE result_detail DROP COLUMN u_ripple_depth_pct;
      ALTER TABLE result_detail DROP COLUMN c_ripple_depth_pct;`)
    before.close()
    const again = await openTestStore(on.path)
    expect((await again.result(id, HASH))?.values).toMatchObject({ arrival_s: 0.25, ripple_depth_pct: null })
    const { id: next } = await again.addCapture(testCapture(sweepId, 1), testResult({ ripple_depth_pct: 3 }))
    expect((await again.result(next, HASH))?.values.ripple_depth_pct).toBe(3)
    await again.close()
    expect(readdirSync(on.folder).filter((name) => name.endsWith('.backup'))).toEqual([])
    const archive = open()
    expect(() => archive.db.exec('UPDATE result SET ripple_depth_pct = 1')).toThrow(/never/)
    const columns = (table: string): unknown[] =>
      archive.db.prepare('SELECT name FROM pragma_table_info(?)').pluck().all(table)
    expect(columns('result')).toEqual(expect.arrayContaining(MEASURE_IDS))
    expect(columns('result_detail')).toEqual(expect.arrayContaining(MEASURE_IDS.map((id) => `u_${id}`)))
    closeArchive(archive)
  })

  it('takes no change of what was measured', async () => {
    const store = await openTestStore(on.path)
    const { campaignId, sweepId } = await testSweep(store)
    const { id } = await store.addCapture(testCapture(sweepId, 0), testResult())
    await store.addNote({ captureId: id, text: 'Seen.', reviewer: 'A' })
    await store.addReading(testReading(campaignId))
    await store.close()
    const db = new Database(on.path)
    for (const statement of [
      'UPDATE capture SET level_to = 1',
      "UPDATE capture SET verdict = 'gapped'",
      'DELETE FROM capture',
      'UPDATE trace SET scale_v = 2',
      "UPDATE trace SET samples = x'00'",
      'DELETE FROM trace',
      'UPDATE result SET snr = 0',
      'DELETE FROM result',
      'UPDATE result_detail SET u_snr = 0',
      'UPDATE reading SET value = 1',
      'DELETE FROM reading',
      'DELETE FROM result_reason',
      "UPDATE recipe SET parameters = '{}'",
      'DELETE FROM recipe',
      "UPDATE note SET text = ''",
      'DELETE FROM note',
    ])
      expect(() => db.exec(statement), statement).toThrow(/never/)
    db.pragma('foreign_keys = ON')
    // A capture without its trace does not get past the end of its transaction.
    expect(() =>
      db.exec(`INSERT INTO capture (sweep_id, level_from, level_to, repeat, attempt, position, round, verdict, taken_at,
        sample_count, sample_rate_hz, trigger_index, source) VALUES (${sweepId}, 0, 1, 1, 1, 9, 0, 'good', '', 1, 1, 0, '')`),
    ).toThrow(/FOREIGN KEY/)
    db.close()
    const again = await openTestStore(on.path)
    expect(await again.trace(id)).toEqual(testTrace(0))
    await again.close()
  })
})

describe('an archive of version 1', () => {
  it('is read by this version as it was written', async () => {
    writeVersionOne()
    const store = await openTestStore(on.path, collectingLog(), '1')
    expect((await store.recipes())[0]).toMatchObject({ hash: FIXTURE_HASH, recipe: { name: 'Fixture' } })
    expect(await store.campaigns()).toMatchObject([{ name: 'Fixture', display: 'Panel F' }])
    const sweep = await store.sweep({ sweepId: 1 })
    expect(sweep).toMatchObject({ state: 'finished', total: 2, done: 1, ladder: null, plan: { setting: 'Fast' } })
    expect((await store.trace(1)).samples).toEqual(Int16Array.of(1, 2, 3, -4))
    expect(await store.capture(1)).toMatchObject({ from: 0, to: 255, verdict: 'good', sampleCount: 4, frameLog: null })
    const result = await store.result(1, FIXTURE_HASH)
    expect(result).toMatchObject({
      values: { arrival_s: 0.004, snr: null },
      reasons: { snr: 'No noise is visible in the plateaus.' },
      uncertainties: { arrival_s: 0.0001 },
      landmarks: { onsetS: 0.05, beforeWindow: [0, 0.03], afterWindow: null },
      flags: [{ id: 'hum', evidence: 'Invented.', span: [1, 2] }],
    })
    expect(await store.reviews(1)).toMatchObject([{ decision: 'exclude', undone: false }])
    expect(
      (await store.captures({ recipeHash: FIXTURE_HASH, sort: { by: 'snr', descending: true }, offset: 0, limit: 9 }))
        .rows,
    ).toMatchObject([{ review: 'exclude', flags: ['hum'], noted: false, superseded: false }])
    // Notes continue the numbers of the reviews that were there.
    const [review] = await store.reviews(1)
    expect(await store.addNote({ captureId: 1, text: 'Later.', reviewer: 'A' })).toMatchObject({
      id: (review?.id ?? 0) + 1,
    })
    expect((await store.history({ limit: 9 })).map((entry) => entry.kind)).toEqual(['note', 'review'])
    await store.close()
  })

  it('is raised by later migrations, and a copy of it is kept', () => {
    writeVersionOne()
    const archive = open([...MIGRATIONS, NEXT])
    const { backupPath } = archive.report
    expect(archive.report.foundVersion).toBe(1)
    expect(archive.db.pragma('user_version', { simple: true })).toBe(NEXT.version)
    expect(archive.db.prepare('SELECT name, place FROM campaign').all()).toEqual([{ name: 'Fixture', place: '' }])
    closeArchive(archive)
    const copy = new Database(backupPath ?? '', { readonly: true })
    expect(copy.pragma('user_version', { simple: true })).toBe(1)
    expect(copy.prepare('SELECT count(*) FROM trace').pluck().get()).toBe(1)
    expect(copy.pragma('integrity_check', { simple: true })).toBe('ok')
    copy.close()
    // Opened once more nothing is left to do, and no second copy is made.
    closeArchive(open([...MIGRATIONS, NEXT]))
    expect(readdirSync(on.folder).filter((name) => name.endsWith('.backup'))).toHaveLength(1)
  })

  it('stays as it was when a migration fails', () => {
    writeVersionOne()
    const failing = {
      version: NEXT.version + 1,
      name: 'failing',
      sql: 'CREATE TABLE more (id INTEGER PRIMARY KEY); nonsense;',
    }
    expect(() => open([...MIGRATIONS, NEXT, failing])).toThrow(AppError)
    const db = new Database(on.path, { readonly: true })
    expect(db.pragma('user_version', { simple: true })).toBe(1)
    expect(db.prepare("SELECT count(*) FROM sqlite_schema WHERE name IN ('extra', 'more')").pluck().get()).toBe(0)
    db.close()
  })
})

describe('an archive of before sweeps could be taken back', () => {
  it('lists all of them, and keeps one that is taken back', async () => {
    writeVersionOne()
    const store = await openTestStore(on.path)
    expect(await store.sweeps({})).toMatchObject([{ id: 1, hidden: false }])
    expect(await store.setSweepHidden(1, true)).toMatchObject({ id: 1, hidden: true, done: 1 })
    expect(await store.sweeps({})).toEqual([])
    expect(await store.sweeps({ includeHidden: true })).toMatchObject([{ id: 1, hidden: true }])
    expect((await store.trace(1)).samples).toEqual(Int16Array.of(1, 2, 3, -4))
    await store.close()
  })
})

describe('refusals', () => {
  it('of a file written by a newer version, which is left alone', async () => {
    closeArchive(open([...MIGRATIONS, NEXT]))
    const before = readFileSync(on.path)
    await expect(openTestStore(on.path)).rejects.toMatchObject({
      code: 'archive-newer',
      message: expect.stringContaining(String(NEXT.version)) as string,
      remedy: expect.stringContaining('newer version') as string,
    })
    expect(readFileSync(on.path).equals(before)).toBe(true)
  })

  it('of the database of another program, which is left alone', async () => {
    const db = new Database(on.path)
    db.exec('CREATE TABLE cities (name TEXT)')
    db.close()
    const { size } = statSync(on.path)
    await expect(openTestStore(on.path)).rejects.toMatchObject({ code: 'invalid-input' })
    expect(statSync(on.path).size).toBe(size)
  })

  it('of migrations out of order', () => {
    expect(() => newestVersion([NEXT, NEXT])).toThrow(/out of order/)
    expect(() => newestVersion([{ ...NEXT, version: 1.5 }])).toThrow(/out of order/)
  })
})
