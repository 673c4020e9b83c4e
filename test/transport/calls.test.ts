import { mkdtemp, rm } from 'node:fs/promises'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { isContractProcedure } from '@orpc/contract'
import { afterAll, afterEach, beforeAll, describe, expect, it } from 'vitest'
import { startLoopback } from '#main/transport/loopback.ts'
import { contract } from '#shared/contract/contract.ts'
import { AppError } from '#shared/domain/errors.ts'
import { MAX_STAGED_PIECE_BYTES } from '#shared/domain/import.ts'
import type { HostEvent } from '#shared/domain/views.ts'
import type { Client } from '../../src-renderer/client/client.ts'
import { Endpoint } from '../../src-renderer/client/endpoint.ts'
import { liveView, STATE } from './fake-core.ts'
import { channelHost, clientOver, fakeHost, loopbackHost, nodeSocketLink, sessionSecret, type Host } from './harness.ts'

/** The desktop's way: both ends of a message channel in one process; structured clone is the same. */
let root: string
beforeAll(async () => {
  root = await mkdtemp(join(tmpdir(), 'slewlight-calls-'))
})
afterAll(() => rm(root, { recursive: true }))

const later = (ms: number) => new Promise<void>((resolve) => setTimeout(resolve, ms))

const until = (condition: () => boolean): Promise<void> => expect.poll(condition).toBe(true)

type AnyCall = (input?: unknown, options?: { signal?: AbortSignal }) => Promise<unknown>
const procedures = Object.entries(contract).flatMap(([group, methods]) =>
  Object.entries(methods).map(([method, procedure]) => ({ group, method, procedure })),
)
const callOf = (client: Client, group: string, method: string) =>
  (client as unknown as Record<string, Record<string, AnyCall>>)[group]?.[method] as AnyCall

describe.each(['message port', 'WebSocket'] as const)('calls over a %s', (carrier) => {
  let host: Host
  let client: Client
  let endpoint: Endpoint
  let close: () => Promise<void>

  beforeAll(async () => {
    ;({ host, client, endpoint, close } = carrier === 'WebSocket' ? await loopbackHost(root) : channelHost())
  })
  afterAll(() => close())
  afterEach(() => {
    host.calls.length = 0
  })

  it('refuses wrong input of every procedure with a typed error, before the core hears of it', async () => {
    expect(procedures.length).toBeGreaterThan(35)
    for (const { group, method, procedure } of procedures) {
      if (!isContractProcedure(procedure)) throw new Error(`${group}.${method} is no procedure`)
      for (const wrong of [42, 'text', [], { unheardOf: true }, { __proto__: null, sweepId: {} }, Number.NaN, true]) {
        // oxlint-disable-next-line no-await-in-loop
        const error = await callOf(
          client,
          group,
          method,
        )(wrong).then(
          () => null,
          (failure: unknown) => failure,
        )
        const where = `${group}.${method}(${JSON.stringify(wrong)})`
        expect([where, error instanceof AppError && error.code]).toEqual([where, 'invalid-input'])
        expect((error as AppError).message.length).toBeGreaterThan(5)
      }
    }
    expect(host.calls).toEqual([])
  })

  it('says in words what is wrong', async () => {
    const plan = { setting: 'Off', refreshHz: 60, levels: [255, 0], repeats: 1, preS: 0.05, postS: 0.2, spacingS: 0.1 }
    const wrong = { campaignId: 1, plan: { ...plan, sampleRateHz: 50_000, rangeV: 5 } }
    await expect(client.sweeps.create(wrong)).rejects.toMatchObject({
      code: 'invalid-input',
      message: expect.stringContaining('plan.levels: Levels go from dark to bright.') as string,
    })
  })

  it('hands parsed input to the core and its answer back', async () => {
    host.answer('campaigns.create', (input) => ({ id: 7, ...(input as object) }))
    expect(await client.campaigns.create({ name: '  Bench 1 ' })).toEqual({
      id: 7,
      name: 'Bench 1',
      display: '',
      note: '',
    })
    expect(await client.system.state()).toEqual(STATE)
    expect(host.calls).toEqual([{ name: 'campaigns.create', input: { name: 'Bench 1', display: '', note: '' } }])
  })

  it('carries typed arrays as they are, bit for bit', async () => {
    const view = liveView(4001)
    host.answer('rig.live', () => view)
    const got = await client.rig.live({ since: 0, columns: 4001 })
    expect(got?.envelope.min).toBeInstanceOf(Float32Array)
    expect(got).toEqual(view)
  })

  it('carries the curves of an overlay, each in its place, and what is not there as null', async () => {
    const { envelope } = liveView(501)
    const other = { captureId: 2, repeat: 2, counts: true, reason: '', shiftS: -0.01, envelope: liveView(400).envelope }
    const overlay = {
      captureId: 1,
      alignedAtS: 0.05,
      own: envelope,
      others: [other, { ...other, captureId: 3, counts: false, reason: 'excluded' }],
      mean: null,
      residual: liveView(77).envelope,
      counted: 1,
      excluded: 1,
      note: '',
    }
    host.answer('captures.overlay', () => overlay)
    const recipeHash = '0123456789abcdef'
    expect(await client.captures.overlay({ captureId: 1, recipeHash, columns: 501 })).toEqual(overlay)
    // Marks are checked before the core hears of them.
    const override = { beforeWindow: [0.1, Number.NaN] as [number, number] }
    await expect(client.captures.previewOverride({ captureId: 1, recipeHash, override })).rejects.toMatchObject({
      code: 'invalid-input',
    })
    await expect(
      client.captures.setNote({ captureId: 1, text: 'x'.repeat(2001), reviewer: 'A' }),
    ).rejects.toMatchObject({ code: 'invalid-input' })
    expect(host.calls.map((call) => call.name)).toEqual(['captures.overlay'])
  })

  it('carries the bytes of a staged file, and refuses pieces that are too large before the core hears of them', async () => {
    const bytes = Uint8Array.from({ length: 100_003 }, (_, i) => (i * 31) % 256)
    host.answer('files.stage', (input) => ({ fileId: (input as { bytes: Uint8Array }).bytes.join() === bytes.join() }))
    expect(await client.files.stage({ fileId: null, bytes })).toEqual({ fileId: true })
    host.calls.length = 0
    const large = new Uint8Array(MAX_STAGED_PIECE_BYTES + 1)
    await expect(client.files.stage({ fileId: null, bytes: large })).rejects.toMatchObject({ code: 'invalid-input' })
    expect(host.calls).toEqual([])
  })

  it('carries failures of the core with code, message and remedy, and hides nothing behind unknown ones', async () => {
    host.answer('rig.ports', () => {
      throw new AppError('rig-permission', 'The port may not be opened.', 'Join the group dialout.')
    })
    await expect(client.rig.ports()).rejects.toMatchObject({
      code: 'rig-permission',
      message: 'The port may not be opened.',
      remedy: 'Join the group dialout.',
    })
    host.answer('rig.ports', () => {
      throw new TypeError('x is undefined')
    })
    const logged = host.log.lines.length
    await expect(client.rig.ports()).rejects.toMatchObject({ code: 'internal' })
    expect(host.log.lines.slice(logged)).toEqual([expect.objectContaining({ level: 'error' })])
  })

  it('cancels at the host what the caller cancels', async () => {
    let heard: AbortSignal | undefined
    host.answer('rig.connect', (_input, signal) => {
      heard = signal
      return new Promise(() => undefined)
    })
    const controller = new AbortController()
    const call = client.rig.connect({ kind: 'simulated' }, { signal: controller.signal })
    await until(() => heard !== undefined)
    controller.abort()
    await expect(call).rejects.toMatchObject({ code: 'cancelled' })
    await until(() => heard?.aborted === true)
  })

  it('gives up a call after its time limit', async () => {
    host.answer('captures.get', () => new Promise(() => undefined))
    const input = { captureId: 1, recipeHash: '0123456789abcdef' }
    await expect(client.captures.get(input, { context: { timeoutMs: 40 } })).rejects.toMatchObject({ code: 'timeout' })
  })

  it('streams the present state, then changes, and lets go when the listener does', async () => {
    const controller = new AbortController()
    const seen: HostEvent[] = []
    const reading = (async () => {
      for await (const event of await client.system.watch(undefined, { signal: controller.signal })) seen.push(event)
    })().catch((error: unknown) => error)
    await until(() => seen.length === 1)
    expect(seen[0]).toEqual({ kind: 'state', state: STATE })
    for (let i = 1; i <= 50; i++) host.emit({ kind: 'state', state: { ...STATE, monitoring: i % 2 === 0 } })
    host.emit({ kind: 'changed', what: 'results' })
    host.emit({ kind: 'changed', what: 'results' })
    await until(() => seen.some((event) => event.kind === 'changed'))
    await later(80)
    // Fifty states and two announcements arrive as the newest of each.
    expect(seen.slice(1)).toEqual([
      { kind: 'state', state: { ...STATE, monitoring: true } },
      { kind: 'changed', what: 'results' },
    ])
    controller.abort()
    expect(await reading).toMatchObject({ code: 'cancelled' })
    await until(() => host.listeners() === 0)
  })

  it('ends what runs when the page goes, and serves the next one', async () => {
    let heard: AbortSignal | undefined
    host.answer('rig.disconnect', (_input, signal) => {
      heard = signal
      return new Promise(() => undefined)
    })
    const stream = await client.system.watch()
    await stream.next()
    const waiting = stream.next()
    const call = client.rig.disconnect()
    await until(() => heard !== undefined && host.listeners() === 1)
    endpoint.drop()
    await expect(call).rejects.toMatchObject({ code: 'cancelled' })
    await expect(waiting).rejects.toMatchObject({ code: 'cancelled' })
    await until(() => heard?.aborted === true && host.listeners() === 0)
    expect(await client.system.state()).toEqual(STATE)
  })
})

describe('a connection that breaks', () => {
  it('is set up again with growing pauses and serves calls made meanwhile', async () => {
    const host = fakeHost()
    let loopback = await startLoopback({ serve: host.serve, root, log: host.log })
    const port = Number(new URL(loopback.origin).port)
    const endpoint = new Endpoint({
      open: async () => nodeSocketLink(loopback.origin, await sessionSecret(loopback)),
      firstPauseMs: 10,
      longestPauseMs: 40,
    })
    const client = clientOver(endpoint)
    const states: string[] = []
    endpoint.onState(() => states.push(endpoint.state().kind))
    expect(await client.system.state()).toEqual(STATE)
    await loopback.close()
    await until(() => endpoint.state().kind === 'lost')
    const early = client.system.state()
    loopback = await startLoopback({ serve: host.serve, root, port, log: host.log })
    expect(await early).toEqual(STATE)
    expect(states[0]).toBe('open')
    expect(states.at(-1)).toBe('open')
    expect(states).toContain('lost')
    endpoint.close()
    await loopback.close()
  })

  it('is given up for good when the host refuses the page', async () => {
    let attempts = 0
    const endpoint = new Endpoint({
      open: async () => {
        attempts += 1
        throw new AppError('conflict', 'This address is not valid.', 'Open the printed one.')
      },
      firstPauseMs: 1,
    })
    await expect(clientOver(endpoint).system.state()).rejects.toMatchObject({ code: 'conflict' })
    await later(30)
    expect(attempts).toBe(1)
    expect(endpoint.state().kind).toBe('refused')
  })
})
