/** Files on their way from the host: large ones in little memory, and readers that leave. */
import { mkdtemp, rm } from 'node:fs/promises'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, afterEach, beforeEach, describe, expect, it } from 'vitest'
import { WebSocket } from 'ws'
import type { ExportFile } from '#main/core/ports.ts'
import { RPC_PATH, RPC_PROTOCOL } from '#shared/contract/wire.ts'
import { AppError } from '#shared/domain/errors.ts'
import { collect } from '../../src-renderer/client/collect.ts'
import { channelHost, loopbackHost, sessionSecret } from './harness.ts'

const PIECE = 256 * 1024
const TRACE = { what: 'trace', captureId: 1 } as const

const root = await mkdtemp(join(tmpdir(), 'slewlight-exports-'))
afterAll(() => rm(root, { recursive: true }))

/** A file of numbered pieces that counts what was made of it and whether it was let go. */
function countedFile(count: number): { file: ExportFile; made: () => number; released: () => boolean } {
  let made = 0
  let released = false
  return {
    made: () => made,
    released: () => released,
    file: {
      name: 'large.csv',
      unit: 'bytes',
      total: count * PIECE,
      async *pieces() {
        try {
          for (; made < count;) {
            made += 1
            yield { bytes: new Uint8Array(PIECE).fill(made % 251), done: made * PIECE }
          }
        } finally {
          released = true
        }
      },
    },
  }
}

describe.each(['message port', 'WebSocket'] as const)('an export over a %s', (carrier) => {
  let on: Awaited<ReturnType<typeof loopbackHost>> | ReturnType<typeof channelHost>
  beforeEach(async () => {
    on = carrier === 'WebSocket' ? await loopbackHost(root) : channelHost()
  })
  afterEach(() => on.close())

  it('arrives whole and in order, and is never far ahead of its reader', async () => {
    const { file, made } = countedFile(800)
    on.host.answer('files.export', () => file)
    let taken = 0
    let ahead = 0
    let grown = 0
    const before = process.memoryUsage().rss
    for await (const step of await on.client.files.export(TRACE)) {
      if (step.kind === 'file') {
        expect(step.name).toBe('large.csv')
        continue
      }
      taken += 1
      expect([step.bytes.length, step.bytes[0], step.bytes[PIECE - 1]]).toEqual([PIECE, taken % 251, taken % 251])
      ahead = Math.max(ahead, made() - taken)
      grown = Math.max(grown, process.memoryUsage().rss - before)
    }
    expect(taken).toBe(800)
    process.stdout.write(
      `200 MiB over a ${carrier}: at most ${ahead} pieces ahead, grew by ${(grown / 2 ** 20).toFixed(0)} MiB\n`,
    )
    // The window is 32 messages, acknowledged by eights.
    expect(ahead).toBeLessThanOrEqual(48)
    expect(grown).toBeLessThan(150 * 2 ** 20)
  })

  it('is collected by the page as one file', async () => {
    const { file } = countedFile(70)
    on.host.answer('files.export', () => file)
    const { name, content } = await collect(await on.client.files.export(TRACE))
    expect([name, content.size]).toEqual(['large.csv', 70 * PIECE])
    const last = new Uint8Array(await content.slice(69 * PIECE).arrayBuffer())
    expect(last.every((byte) => byte === 70)).toBe(true)
  })

  it('ends where it stands when the reader leaves, and when the line breaks', async () => {
    for (const leave of ['the reader stops', 'the line breaks'] as const) {
      const { file, made, released } = countedFile(100_000)
      on.host.answer('files.export', () => file)
      const steps = await on.client.files.export(TRACE)
      for (let i = 0; i < 4; i++) await steps.next()
      if (leave === 'the reader stops') await steps.return?.(undefined)
      else on.endpoint.drop()
      await expect.poll(released, { message: leave }).toBe(true)
      expect(made()).toBeLessThan(60)
    }
  })

  it('fails by its own error in the middle', async () => {
    on.host.answer('files.export', () => ({
      ...countedFile(1).file,
      async *pieces() {
        yield { bytes: new Uint8Array(3), done: 3 }
        throw new AppError('archive-damaged', 'Capture 7 is damaged.', 'Salvage the archive.')
      },
    }))
    await expect(collect(await on.client.files.export(TRACE))).rejects.toMatchObject({
      code: 'archive-damaged',
      message: 'Capture 7 is damaged.',
      remedy: 'Salvage the archive.',
    })
  })
})

it('an export to a page that never reads stops after its window', async () => {
  const on = await loopbackHost(root)
  const { file, made, released } = countedFile(100_000)
  on.host.answer('files.export', () => file)
  const secret = await sessionSecret(on.loopback)
  const { origin } = on.loopback
  const page = new WebSocket(origin.replace('http:', 'ws:') + RPC_PATH, [RPC_PROTOCOL, secret], { origin })
  await new Promise((resolve) => page.on('open', resolve))
  page.pause()
  page.send(JSON.stringify({ i: '1', p: { u: '/files/export', b: { json: TRACE } } }))
  await expect.poll(made).toBeGreaterThan(10)
  await new Promise((resolve) => {
    setTimeout(resolve, 500)
  })
  expect(made()).toBeLessThanOrEqual(40)
  expect(released()).toBe(false)
  page.terminate()
  await expect.poll(released).toBe(true)
  await on.close()
})
