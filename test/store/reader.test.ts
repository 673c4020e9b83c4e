/** Looking at an archive: beside a program that writes it, without changing anything. */
import { existsSync, readdirSync, readFileSync } from 'node:fs'
import { describe, expect, it } from 'vitest'
import type { Store } from '../../src-main/core/ports.ts'
import { openStore } from '../../src-main/store/store.ts'
import { createStoreWorker } from '../support/workers.ts'
import { clock, collectingLog, filter, HASH, openTestStore, testCapture, testResult, testSweep } from './fixtures.ts'
import { archivePerTest } from './per-test.ts'
import { startChild } from './process.ts'

const on = archivePerTest()

const look = (): Promise<Store> =>
  openStore({
    path: on.path,
    createWorker: createStoreWorker,
    clock,
    log: collectingLog(),
    algorithm: '1',
    readOnly: true,
  })

async function filled(): Promise<number> {
  const store = await openTestStore(on.path, collectingLog(), '1')
  const { sweepId } = await testSweep(store)
  for (let i = 0; i < 5; i++) await store.addCapture(testCapture(sweepId, i), testResult({ snr: i }, [], HASH, '1'))
  await store.close()
  return sweepId
}

describe('an archive that is closed', () => {
  it('is read without a byte of it, or a file beside it, being changed', async () => {
    const sweepId = await filled()
    const before = readFileSync(on.path)
    const files = readdirSync(on.folder)
    const reader = await look()
    expect(await reader.sweep({ sweepId })).toMatchObject({ done: 5 })
    expect((await reader.trace(3)).samples.length).toBe(1000)
    await reader.close()
    expect(readFileSync(on.path).equals(before)).toBe(true)
    expect(readdirSync(on.folder)).toEqual(files)
  })

  it('takes no change', async () => {
    const sweepId = await filled()
    const reader = await look()
    const note = reader.addNote({ captureId: 1, text: 'Seen.', reviewer: 'A' })
    await expect(note).rejects.toMatchObject({ code: 'archive-read-only' })
    await expect(reader.renameSweep({ sweepId, name: 'x' })).rejects.toMatchObject({ code: 'archive-read-only' })
    await reader.close()
  })

  it('may be read by several at once', async () => {
    const sweepId = await filled()
    const readers = await Promise.all([look(), look(), look()])
    for (const reader of readers) expect(await reader.sweep({ sweepId })).toMatchObject({ done: 5 })
    await Promise.all(readers.map((reader) => reader.close()))
  })
})

describe('an archive that another program writes', () => {
  it('is read while it grows, each time as it is then', async () => {
    const child = startChild(on.path, 'capture')
    await child.said('stored 2')
    const reader = await look()
    const [sweep] = await reader.sweeps({})
    const sweepId = sweep?.id ?? 0
    const first = await reader.captures(filter({ sweepId, sort: { by: 'snr', descending: true } }))
    expect(first.total).toBeGreaterThanOrEqual(3)
    const acknowledged = child.lines().length - 1
    await child.said(`stored ${acknowledged + 3}`)
    expect((await reader.captures(filter({ sweepId }))).total).toBeGreaterThan(first.total)
    expect((await reader.trace(1)).samples.length).toBeGreaterThan(0)
    // The writer is not held up by it, and still keeps other writers out.
    await expect(openTestStore(on.path)).rejects.toMatchObject({ code: 'archive-locked' })
    await child.kill()
    await reader.close()
    const store = await openTestStore(on.path)
    expect((await store.captures(filter({ sweepId }))).total).toBeGreaterThanOrEqual(acknowledged + 3)
    await store.close()
  })
})

describe('an archive that cannot only be read', () => {
  it('is opened for writing when its program was killed, and checked', async () => {
    const child = startChild(on.path, 'capture')
    await child.said('stored 2')
    await child.kill()
    const store = await look()
    await store.log({ sweepId: null, level: 'info', text: 'It was checked.' })
    await store.close()
  })

  it('is created when it is not there, with its recipes', async () => {
    const store = await look()
    expect((await store.recipes()).length).toBeGreaterThan(0)
    await store.close()
    expect(existsSync(on.path)).toBe(true)
  })
})
