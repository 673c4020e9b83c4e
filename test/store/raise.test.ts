/** Raising archives of every earlier version: nothing lost, the same numbers, a copy kept, whatever ends the program. */
import { copyFileSync, existsSync, readdirSync, statSync } from 'node:fs'
import Database from 'better-sqlite3'
import { describe, expect, it } from 'vitest'
import { newestVersion } from '../../src-main/store/migrate.ts'
import { MIGRATIONS } from '../../src-main/store/migrations/index.ts'
import { collectingLog, openTestStore } from './fixtures.ts'
import { archivePerTest } from './per-test.ts'
import { contentOf, writeOlder } from './older-archive.ts'
import { startScript } from './process.ts'

const on = archivePerTest()

const NEWEST = newestVersion(MIGRATIONS)
const EARLIER = MIGRATIONS.map(({ version }) => version).filter((version) => version < NEWEST)

describe.each(EARLIER)('an archive of version %i', (version) => {
  it('is raised with everything in it, and a copy of it is kept', async () => {
    const path = `${on.folder}/archive`
    writeOlder(path, version, 2500)
    const before = contentOf(path)
    const store = await openTestStore(path, collectingLog(), '2')
    expect(await store.campaigns()).toMatchObject([
      { origin: 'measured' },
      { origin: 'simulated' },
      { origin: 'imported' },
    ])
    for (const sweep of await store.sweeps({}))
      expect(sweep).toMatchObject({ setting: 'Fast', refreshHz: 143.9, runId: null, name: '', hidden: false })
    expect((await store.result(7, '2080d6b875ebd0fd'))?.reasons).toMatchObject({ snr: expect.any(String) as string })
    expect(await store.trace(2500)).toMatchObject({ format: 'int16', sampleRateHz: 50_000 })
    await store.close()
    const after = contentOf(path)
    // The program adds its own recipes; everything that was there is compared.
    expect({ ...after, recipe: before['recipe'] }).toEqual(before)
    const copies = readdirSync(on.folder).filter((name) => name.endsWith('.backup'))
    expect(copies).toHaveLength(1)
    expect(contentOf(`${on.folder}/${copies[0] ?? ''}`)).toEqual(before)
  })
})

describe('readings of strobing', () => {
  it('get setting and refresh rate from notes of our own, and from no other', async () => {
    const path = `${on.folder}/archive`
    writeOlder(path, 9, 0)
    const notes = [
      ['strobe', 'Setting Strong at 144 Hz. Sequence 3, step top.', 'Strong', 144],
      ['strobe', 'Setting Low light at night at 59.94 Hz. 2 pulses a frame.', 'Low light at night', 59.94],
      ['strobe', 'Setting Strong', null, null],
      ['strobe', 'Setting at 60 Hz.', null, null],
      ['strobe', 'Setting Off at some Hz.', null, null],
      ['strobe', 'Measured with the setting Off at 60 Hz.', null, null],
      ['luminance', 'Setting Strong at 144 Hz.', null, null],
    ] as const
    const db = new Database(path)
    const insert =
      db.prepare(`INSERT INTO reading (campaign_id, kind, quantity, unit, value, source, place, note, at, added_at)
      VALUES (1, ?, 'crosstalk', '%', 1, '', 'top', ?, '2030-01-01T00:00:00Z', 'then')`)
    for (const [kind, note] of notes) insert.run(kind, note)
    db.close()
    const store = await openTestStore(path)
    const found = await store.readings({ campaignId: 1 })
    expect(found.map(({ kind, note, setting, refreshHz }) => [kind, note, setting, refreshHz])).toEqual(notes)
    await store.close()
    // Like all else of a reading they stay as they are.
    const raised = new Database(path)
    expect(() => raised.exec("UPDATE reading SET setting = 'Off'")).toThrow('readings are never changed')
    raised.close()
  })
})

describe('20,000 captures of the version before runs and readings', () => {
  it('are all there after kills at any moment of the raising, which then goes on', async () => {
    const older = `${on.folder}/older`
    writeOlder(older, 4, 20_000)
    const before = contentOf(older)
    expect(before['capture']?.rows).toBe(20_000)

    const path = `${on.folder}/killed`
    copyFileSync(older, path)
    const named = (end: string): boolean =>
      readdirSync(on.folder).some((name) => name.startsWith('killed') && name.endsWith(end))
    const logBytes = (): number => (existsSync(`${path}-wal`) ? statSync(`${path}-wal`).size : 0)
    const moments: Readonly<Record<string, () => boolean>> = {
      'at once': () => true,
      'while the copy is made': () => named('.unfinished'),
      'when the copy is made': () => named('.backup'),
      'early in the raising': () => logBytes() > 100_000,
      'late in the raising': () => logBytes() > 1_000_000,
    }
    const found: number[] = []
    for (const [moment, reached] of Object.entries(moments)) {
      const child = startScript('./raise-child.ts', [path])
      await child.said('opening')
      while (!reached() && !child.lines().includes('raised')) await new Promise((resolve) => setImmediate(resolve))
      await child.kill()
      const db = new Database(path, { readonly: true })
      found.push(Number(db.pragma('user_version', { simple: true })))
      expect(db.pragma('quick_check', { simple: true }), moment).toBe('ok')
      db.close()
      expect(contentOf(path), moment).toEqual(before)
    }
    // Either the old version or the new one, never between.
    expect(found.every((version) => version === 4 || version === NEWEST)).toBe(true)
    expect(found.filter((version) => version === 4).length).toBeGreaterThanOrEqual(3)
    const last = startScript('./raise-child.ts', [path])
    await last.said('raised')
    expect(contentOf(path)).toEqual(before)
    const names = readdirSync(on.folder)
    expect(names.filter((name) => name.includes('unfinished'))).toEqual([])
    const copy = names.find((name) => name.startsWith('killed') && name.endsWith('.backup')) ?? ''
    expect(existsSync(`${on.folder}/${copy}`)).toBe(true)
    expect(contentOf(`${on.folder}/${copy}`)).toEqual(before)
  })
})
