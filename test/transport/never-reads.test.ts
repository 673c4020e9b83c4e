import { mkdtemp, rm } from 'node:fs/promises'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, beforeAll, expect, it } from 'vitest'
import { WebSocket } from 'ws'
import { startLoopback, type Loopback } from '#main/transport/loopback.ts'
import { RPC_PATH, RPC_PROTOCOL } from '#shared/contract/wire.ts'
import { recordedLog } from './fake-core.ts'
import { sessionSecret } from './harness.ts'

const ANSWER_BYTES = 1024 * 1024
const REQUESTS = 150
let folder: string
let loopback: Loopback
let begun = 0

beforeAll(async () => {
  folder = await mkdtemp(join(tmpdir(), 'slewlight-never-reads-'))
  loopback = await startLoopback({
    serve: (port) =>
      port.on('message', (event) => {
        begun += 1
        const { i } = (event as { data: { i: string } }).data
        port.postMessage({ i, t: 2, p: { b: { json: 'x'.repeat(ANSWER_BYTES) } } })
      }),
    root: folder,
    log: recordedLog(),
  })
})
afterAll(async () => {
  await loopback.close()
  await rm(folder, { recursive: true })
})

it('a page that asks and never reads costs a bounded amount of memory, and gets all once it reads', async () => {
  const secret = await sessionSecret(loopback)
  const { origin } = loopback
  const page = new WebSocket(origin.replace('http:', 'ws:') + RPC_PATH, [RPC_PROTOCOL, secret], { origin })
  await new Promise((resolve) => page.on('open', resolve))
  let answered = 0
  page.on('message', () => (answered += 1))
  page.pause()
  const before = process.memoryUsage()
  for (let i = 0; i < REQUESTS; i++) page.send(JSON.stringify({ i: String(i), p: { u: '/captures/trace', b: {} } }))
  await new Promise((resolve) => {
    setTimeout(resolve, 1500)
  })
  const after = process.memoryUsage()
  const grownMB = (after.rss - before.rss) / 2 ** 20
  process.stdout.write(
    `a page that never reads: ${begun} of ${REQUESTS} requests of 1 MiB begun, host grew by ${grownMB.toFixed(0)} MiB\n`,
  )
  // 16 MiB may wait, 24 requests be under way, and the system's own buffers hold a few MiB.
  expect(begun).toBeLessThan(60)
  expect(grownMB).toBeLessThan(100)
  page.resume()
  await expect.poll(() => answered).toBe(REQUESTS)
  page.close()
})
