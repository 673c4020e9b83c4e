/** The copy made before a schema is upgraded: whole or not there, whatever ends the program. */
import { copyFileSync, mkdirSync, readdirSync, rmSync, statSync, writeFileSync } from 'node:fs'
import Database from 'better-sqlite3'
import { afterEach, beforeEach, describe, expect, it } from 'vitest'
import { closeArchive, createEmpty, openArchive } from '../../src-main/store/archive.ts'
import { MIGRATIONS } from '../../src-main/store/migrations/index.ts'
import { seededRandom } from '../../src-shared/domain/seeded-random.ts'
import { clock, temporaryFolder } from './fixtures.ts'
import { type Child, startScript } from './process.ts'
import { MOUNTS, NO_MOUNT, onSmallDisk } from './small-disk.ts'
import { SEED } from '../support/seed.ts'

const EVENTS = 6000

let folder: ReturnType<typeof temporaryFolder>
let older: string
let child: Child | null = null

beforeEach(() => {
  folder = temporaryFolder()
  older = `${folder.path}/older`
  const db = createEmpty(older, MIGRATIONS.slice(0, 1))
  db.pragma('synchronous = OFF')
  const add = db.prepare("INSERT INTO event (at, level, text) VALUES ('', 'info', ?)")
  db.transaction(() => {
    for (let i = 0; i < EVENTS; i++) add.run(`${i} ${'x'.repeat(900)}`)
  })()
  db.close()
})
afterEach(async () => {
  await child?.kill()
  folder.remove()
})

const open = (path: string): void => closeArchive(openArchive({ path, algorithm: '1', at: clock.iso() }))

function checkWhole(path: string): void {
  const db = new Database(path, { readonly: true })
  expect(db.pragma('integrity_check', { simple: true })).toBe('ok')
  expect(db.prepare('SELECT count(*) FROM event').pluck().get()).toBe(EVENTS)
  db.close()
}

describe('the backup before a migration', () => {
  it('is whole or not there after a kill at any moment, and halves are cleared away', async () => {
    const seed = SEED
    const next = seededRandom(seed)
    let halves = 0
    for (let round = 0; round < 5; round++) {
      const place = `${folder.path}/${round}`
      mkdirSync(place)
      child = startScript('./backup-child.ts', [older, place])
      await child.said('raising')
      await new Promise((resolve) => {
        setTimeout(resolve, 150 * next())
      })
      await child.kill()
      const names = readdirSync(place)
      halves += names.filter((name) => name.includes('unfinished')).length
      for (const name of names) if (name.endsWith('.backup')) checkWhole(`${place}/${name}`)
      for (const name of names)
        if (/^\d+\.slewlight$/.test(name) && statSync(`${place}/${name}`).size === statSync(older).size)
          open(`${place}/${name}`)
      const after = readdirSync(place)
      expect({ seed, round, left: after.filter((name) => name.includes('unfinished')) }).toEqual({
        seed,
        round,
        left: [],
      })
      rmSync(place, { recursive: true })
    }
    process.stdout.write(`backups killed: seed ${seed}, ${halves} halves found and cleared away\n`)
  })

  it('of which a half was left is made anew', () => {
    writeFileSync(`${older}.schema-1.backup.unfinished`, 'half')
    writeFileSync(`${older}.schema-1.backup.unfinished-journal`, 'half')
    open(older)
    expect(readdirSync(folder.path).filter((name) => name.includes('backup'))).toEqual(['older.schema-1.backup'])
    checkWhole(`${older}.schema-1.backup`)
  })

  it.skipIf(!MOUNTS)(`takes no room when the disk was too full for it${MOUNTS ? '' : NO_MOUNT}`, async () => {
    const { size } = statSync(older)
    await onSmallDisk(`${folder.path}/disk`, `size=${Math.ceil(size * 1.5)}`, async (disk) => {
      const path = `${disk}/archive`
      copyFileSync(older, path)
      expect(() => open(path)).toThrow(expect.objectContaining({ code: 'archive-disk-full' }) as Error)
      expect(readdirSync(disk).filter((name) => name.includes('backup'))).toEqual([])
      checkWhole(path)
    })
  })
})
