/** What can happen to an archive while it is in use: nothing acknowledged is lost, and the message says what to do. */
import { execFileSync } from 'node:child_process'
import { chmodSync, rmSync, writeFileSync } from 'node:fs'
import type { Worker } from 'node:worker_threads'
import { afterEach, describe, expect, it } from 'vitest'
import { AppError } from '../../src-shared/domain/errors.ts'
import { DEFAULT_RECIPE } from '../../src-shared/domain/recipe.ts'
import { closeArchive, openArchive } from '../../src-main/store/archive.ts'
import { OPERATIONS } from '../../src-main/store/operations.ts'
import { openStore } from '../../src-main/store/store.ts'
import { createStoreWorker } from '../support/workers.ts'
import { seededRandom } from '../../src-shared/domain/seeded-random.ts'
import { clock, collectingLog, HASH, openTestStore, testCapture, testResult, testSweep, testTrace } from './fixtures.ts'
import { sweepIn } from './in-thread.ts'
import { archivePerTest } from './per-test.ts'
import { type Child, startChild } from './process.ts'
import { MOUNTS, NO_MOUNT, onSmallDisk } from './small-disk.ts'
import { SEED } from '../support/seed.ts'

const on = archivePerTest()
const children: Child[] = []
afterEach(async () => {
  for (const child of children.splice(0)) await child.kill()
})

function start(mode: 'capture' | 'hold'): Child {
  const child = startChild(on.path, mode)
  children.push(child)
  return child
}

describe('a process killed at random moments', () => {
  it('leaves every acknowledged capture whole, and the next one goes on', async () => {
    const seed = SEED
    process.stdout.write(`killed at random moments: seed ${seed}\n`)
    const next = seededRandom(seed)
    const acknowledged = new Set<number>()
    for (let round = 0; round < 5; round++) {
      const child = start('capture')
      await child.said('stored')
      await new Promise((resolve) => {
        setTimeout(resolve, 150 * next())
      })
      await child.kill()
      for (const line of child.lines()) if (line.startsWith('stored ')) acknowledged.add(Number(line.slice(7)))
    }
    const log = collectingLog()
    const store = await openTestStore(on.path, log)
    // The end was unclean, so the check ran; it found the file whole, or opening would have been refused.
    expect(log.entries.map(({ message }) => message)).toContain(
      'The archive was not closed the last time; it was checked and is whole.',
    )
    const { rows } = await store.captures({
      recipeHash: HASH,
      sort: { by: 'id', descending: false },
      offset: 0,
      limit: 5000,
    })
    const stored = new Map(rows.map((row) => [row.info.position, row]))
    expect(stored.size).toBe(rows.length)
    expect(acknowledged.size).toBeGreaterThanOrEqual(5)
    for (const position of acknowledged) {
      const row = stored.get(position)
      expect(row?.values?.snr).toBe(position)
      const count = 200 + Math.floor(60_000 * seededRandom(position)() ** 3)
      expect(await store.trace(row?.info.id ?? 0)).toEqual(testTrace(position, count))
    }
    // Not more than the one that was under way at each kill.
    expect(stored.size - acknowledged.size).toBeLessThanOrEqual(5)
    await store.close()
  })
})

describe('another process', () => {
  it('keeps the archive to itself until it ends, however it ends', async () => {
    const child = start('hold')
    await child.said('open')
    await expect(openTestStore(on.path)).rejects.toMatchObject({
      code: 'archive-locked',
      remedy: expect.stringContaining('Close the other') as string,
    })
    await child.kill()
    const store = await openTestStore(on.path)
    // The same process cannot open it twice either.
    await expect(openTestStore(on.path)).rejects.toMatchObject({ code: 'archive-locked' })
    await store.close()
  })
})

/** As another user where the tests run as root, who may write everywhere. */
function unprivileged<T>(body: () => T): T {
  if (process.geteuid?.() !== 0) return body()
  process.seteuid?.(65_534)
  try {
    return body()
  } finally {
    process.seteuid?.(0)
  }
}

describe('an archive that cannot be written', () => {
  it.each([
    ['folder', 0o555, 0o644],
    ['file', 0o777, 0o444],
  ])('is refused because of its %s, and stays as it was', async (_what, folderMode, fileMode) => {
    const store = await openTestStore(on.path)
    await store.close()
    chmodSync(on.path, fileMode)
    chmodSync(on.folder, folderMode)
    const open = (): unknown => unprivileged(() => openArchive({ path: on.path, algorithm: '1', at: clock.iso() }))
    expect(open).toThrow(AppError)
    expect(open).toThrow(expect.objectContaining({ code: 'archive-read-only' }))
    chmodSync(on.folder, 0o755)
    chmodSync(on.path, 0o644)
    await (await openTestStore(on.path)).close()
  })

  it.skipIf(!MOUNTS)(`is refused on a disk mounted read-only${MOUNTS ? '' : NO_MOUNT}`, async () => {
    await onSmallDisk(`${on.folder}/disk`, 'size=3m', async (disk) => {
      await (await openTestStore(`${disk}/archive`)).close()
      execFileSync('mount', ['-o', 'remount,ro', disk])
      await expect(openTestStore(`${disk}/archive`)).rejects.toMatchObject({
        code: 'archive-read-only',
        remedy: expect.stringContaining('write permission') as string,
      })
    })
  })

  it('is refused where its folder cannot be made', async () => {
    writeFileSync(`${on.folder}/file`, '')
    await expect(openTestStore(`${on.folder}/file/archive`)).rejects.toMatchObject({ code: 'archive-read-only' })
  })
})

it('waits for the disk with captures again after results, which it need not wait for, also when they fail', () => {
  const archive = openArchive({ path: on.path, algorithm: '1', at: clock.iso() })
  OPERATIONS.saveRecipe(archive, DEFAULT_RECIPE)
  const { id: captureId } = OPERATIONS.addCapture(archive, testCapture(sweepIn(archive, 1), 0), null)
  const full = (): boolean => archive.db.pragma('synchronous', { simple: true }) === 2
  let during: unknown = null
  archive.writeDerived(() => {
    during = archive.db.pragma('synchronous', { simple: true })
  })
  expect([during, full()]).toEqual([1, true])
  OPERATIONS.addResults(archive, [{ captureId, result: testResult({}, [], HASH, '1') }])
  expect(OPERATIONS.result(archive, captureId, HASH)).not.toBeNull()
  expect(full()).toBe(true)
  expect(() => OPERATIONS.addResults(archive, [{ captureId: 99, result: testResult() }])).toThrow(AppError)
  expect(full()).toBe(true)
  closeArchive(archive)
})

describe('a full disk', () => {
  it('refuses the capture whole, keeps what was there and goes on when there is room', async () => {
    const archive = openArchive({ path: on.path, algorithm: '1', at: clock.iso() })
    const sweepId = sweepIn(archive, 100)
    archive.db.pragma('max_page_count = 400')
    const add = (position: number): number =>
      OPERATIONS.addCapture(archive, testCapture(sweepId, position, { trace: testTrace(position, 15_000) }), null).id
    const ids: number[] = []
    let refusal: unknown = null
    while (refusal === null)
      try {
        ids.push(add(ids.length))
      } catch (error) {
        refusal = error
      }
    expect(refusal).toMatchObject({ code: 'SQLITE_FULL' })
    expect(ids.length).toBeGreaterThan(5)
    expect(OPERATIONS.info(archive).captures).toBe(ids.length)
    archive.db.pragma('max_page_count = 100000')
    ids.push(add(ids.length))
    for (const [position, id] of ids.entries())
      expect(OPERATIONS.trace(archive, id)).toEqual(testTrace(position, 15_000))
    expect(archive.db.pragma('quick_check', { simple: true })).toBe('ok')
    closeArchive(archive)
  })

  it.skipIf(!MOUNTS)(`is reported by the store, on a small disk of its own${MOUNTS ? '' : NO_MOUNT}`, async () => {
    await onSmallDisk(`${on.folder}/disk`, 'size=3m', async (disk) => {
      writeFileSync(`${disk}/ballast`, Buffer.alloc(1024 * 1024))
      const store = await openTestStore(`${disk}/archive`)
      const { sweepId } = await testSweep(store)
      const add = async (position: number): Promise<number> =>
        (await store.addCapture(testCapture(sweepId, position, { trace: testTrace(position, 15_000) }), null)).id
      const ids: number[] = []
      let refusal: unknown = null
      while (refusal === null)
        try {
          ids.push(await add(ids.length))
        } catch (error) {
          refusal = error
        }
      expect(refusal).toMatchObject({
        code: 'archive-disk-full',
        remedy: expect.stringContaining('Free space') as string,
      })
      await expect(add(ids.length)).rejects.toMatchObject({ code: 'archive-disk-full' })
      rmSync(`${disk}/ballast`)
      ids.push(await add(ids.length))
      for (const [position, id] of ids.entries()) expect(await store.trace(id)).toEqual(testTrace(position, 15_000))
      // There is no room for the log and the file at once; closing and opening work all the same.
      await store.close()
      const again = await openTestStore(`${disk}/archive`)
      expect((await again.info()).captures).toBe(ids.length)
      await again.close()
    })
  })
})

describe('a thread that dies', () => {
  it('fails what it had by name, is replaced, and nothing acknowledged is lost', async () => {
    const threads: Worker[] = []
    const log = collectingLog()
    const createWorker = (): Worker => {
      const worker = createStoreWorker()
      threads.push(worker)
      return worker
    }
    const store = await openStore({ path: on.path, createWorker, clock, log })
    const { sweepId } = await testSweep(store)
    const first = await store.addCapture(testCapture(sweepId, 0), testResult({ snr: 5 }))
    const pending = Promise.allSettled(
      [1, 2, 3].map((position) => store.addCapture(testCapture(sweepId, position), null)),
    )
    await threads[0]?.terminate()
    // A thread that was stopped may have answered some before.
    const lost = (await pending).filter((outcome) => outcome.status === 'rejected')
    expect(lost.length).toBeGreaterThan(0)
    for (const { reason } of lost)
      expect(reason).toMatchObject({ code: 'worker-died', message: expect.stringContaining('addCapture') as string })
    expect(await store.trace(first.id)).toEqual(testTrace(0))
    expect((await store.result(first.id, HASH))?.values.snr).toBe(5)
    expect(threads).toHaveLength(2)
    expect(log.entries.some(({ level }) => level === 'error')).toBe(true)
    const { total } = await store.captures({
      recipeHash: HASH,
      sort: { by: 'id', descending: false },
      offset: 0,
      limit: 10,
    })
    expect(total).toBeGreaterThanOrEqual(4 - lost.length)
    await store.close()
  })

  it('is not started for ever', async () => {
    const store = await openTestStore(on.path)
    await store.close()
    let started = 0
    const log = collectingLog()
    const opened = openStore({
      path: on.path,
      clock,
      log,
      createWorker: () => {
        started++
        const worker = createStoreWorker()
        void worker.terminate()
        return worker
      },
    })
    await expect(opened).rejects.toMatchObject({ code: 'worker-died' })
    expect(started).toBeLessThanOrEqual(5)
  })
})

describe('closing', () => {
  it('finishes what was asked before and refuses what comes after', async () => {
    const store = await openTestStore(on.path)
    const { sweepId } = await testSweep(store)
    const asked = [0, 1, 2, 3].map((position) => store.addCapture(testCapture(sweepId, position), null))
    const closed = store.close()
    await expect(store.campaigns()).rejects.toMatchObject({ code: 'conflict' })
    await expect(Promise.all(asked)).resolves.toHaveLength(4)
    await closed
    await store.close()
    const log = collectingLog()
    const again = await openTestStore(on.path, log)
    expect((await again.info()).captures).toBe(4)
    expect(log.entries).toEqual([])
    await again.close()
  })
})
