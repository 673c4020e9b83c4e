/** A write-ahead log that is gone or cut after a kill: said, and nothing is lost by opening. */
import { copyFileSync, readFileSync, renameSync, rmSync, truncateSync } from 'node:fs'
import { afterEach, beforeEach, expect, it } from 'vitest'
import { salvageArchive } from '../../src-main/store/store.ts'
import { createStoreWorker } from '../support/workers.ts'
import { clock, collectingLog, openTestStore, temporaryFolder } from './fixtures.ts'
import { startChild } from './process.ts'

let folder: ReturnType<typeof temporaryFolder>
let path: string
let acknowledged: number

beforeEach(async () => {
  folder = temporaryFolder()
  path = `${folder.path}/archive`
  const child = startChild(path, 'capture')
  await child.said('stored 12')
  await child.kill()
  acknowledged = child.lines().filter((line) => line.startsWith('stored')).length
})
afterEach(() => {
  folder.remove()
})

const count = async (): Promise<number> => {
  const store = await openTestStore(path)
  const { captures } = await store.info()
  await store.close()
  return captures
}

it('that is gone is missed before anything is written, and everything is there once it is back', async () => {
  renameSync(`${path}-wal`, `${folder.path}/kept`)
  const before = readFileSync(path)
  await expect(openTestStore(path)).rejects.toMatchObject({
    code: 'archive-damaged',
    message: expect.stringMatching(/lacks its newest captures: \d+ were stored, \d+ are in it/) as string,
    remedy: expect.stringContaining('Put that file back') as string,
  })
  expect(readFileSync(path).equals(before)).toBe(true)
  rmSync(`${path}-wal`, { force: true })
  renameSync(`${folder.path}/kept`, `${path}-wal`)
  expect(await count()).toBeGreaterThanOrEqual(acknowledged)
})

it('that is cut is missed; salvage keeps what is there', async () => {
  const { length } = readFileSync(`${path}-wal`)
  truncateSync(`${path}-wal`, Math.floor(length / 2))
  await expect(openTestStore(path)).rejects.toMatchObject({ code: 'archive-damaged' })
  const report = await salvageArchive({ path, createWorker: createStoreWorker, clock, log: collectingLog() })
  expect(report.captures).toBeLessThan(acknowledged)
  expect(await count()).toBe(report.captures)
})

it('that was left behind with the file’s other companions is worth a word', async () => {
  const moved = `${folder.path}/moved`
  // The state of the last use is in the file itself only after a part of the log was folded into it.
  const folded = (): boolean => readFileSync(`${path}-wal`).length === 0
  const store = await openTestStore(path)
  await expect.poll(folded).toBe(true)
  copyFileSync(path, moved)
  await store.close()
  path = moved
  const told: string[] = []
  const { openStore } = await import('../../src-main/store/store.ts')
  const again = await openStore({
    path,
    createWorker: createStoreWorker,
    clock,
    log: collectingLog(),
    tell: (words) => void told.push(words),
  })
  expect(told).toEqual([expect.stringContaining('write-ahead log is not beside it')])
  expect((await again.events({ limit: 5 })).map(({ text }) => text)).toContain(told[0])
  await again.close()
})
