import { MessageChannel, type MessagePort } from 'node:worker_threads'
import { describe, expect, it } from 'vitest'
import { isTrusted, serveIpc, type MainPort, type PortRequest } from '#main/transport/ipc.ts'
import { serveLink, type HostLink, type ServedPort } from '#main/transport/serve.ts'
import { PORT_ANSWER, PORT_REQUEST, SEND_WINDOW, type CallContext } from '#shared/contract/wire.ts'
import { recordedLog } from './fake-core.ts'
import { fakeHost } from './harness.ts'

const origin = 'app://slewlight'
const rules = { origin, isOwnWindow: (id: number) => id === 1 }
const frame = (url: string, parent: unknown = null) => ({ url, parent })

const asks = (id: number, senderFrame: { url: string; parent: unknown } | null) =>
  isTrusted({ sender: { id }, senderFrame }, rules)

describe('who gets a port of the desktop', () => {
  it('is the top frame of an own window on an own page, and nobody else', () => {
    expect(asks(1, frame(`${origin}/index.html`))).toBe(true)
    expect(asks(1, frame(`${origin}/stimulus.html#x`))).toBe(true)
    expect(asks(2, frame(`${origin}/index.html`))).toBe(false)
    expect(asks(1, frame(`${origin}/index.html`, {}))).toBe(false)
    expect(asks(1, null)).toBe(false)
    for (const url of [
      'app://other/index.html',
      'app://slewlight.evil/index.html',
      'app://evil@slewlight/index.html',
      'app://slewlight:1/index.html',
      'https://slewlight/index.html',
      'file:///index.html',
      'about:blank',
      'data:text/html,x',
      '',
      'no address',
    ])
      expect([url, asks(1, frame(url))]).toEqual([url, false])
  })

  it('is answered by a port that serves the contract; a stranger hears nothing', async () => {
    const host = fakeHost()
    const sent: { channel: string; ports: MessagePort[] }[] = []
    const asking: ((event: PortRequest<MessagePort>) => void)[] = []
    const ask = (event: PortRequest<MessagePort>) => asking.forEach((listener) => listener(event))
    serveIpc<MessagePort>({
      ...rules,
      serve: host.serve,
      log: host.log,
      onRequest: (channel, listener) => {
        expect(channel).toBe(PORT_REQUEST)
        asking.push(listener)
      },
      newChannel: () => {
        const { port1, port2 } = new MessageChannel()
        return { port1: asMainPort(port1), port2 }
      },
    })
    const event = (id: number): PortRequest<MessagePort> => ({
      sender: { id },
      senderFrame: {
        ...frame(`${origin}/index.html`),
        postMessage: (channel, _message, ports) => void sent.push({ channel, ports }),
      },
    })
    ask(event(2))
    expect(sent).toEqual([])
    expect(host.log.lines).toHaveLength(1)
    ask(event(1))
    const port = sent[0]?.ports[0]
    expect(sent[0]?.channel).toBe(PORT_ANSWER)
    const answer = new Promise((resolve) => port?.once('message', resolve))
    port?.postMessage({ i: '1', p: { u: '/system/state', b: {} } })
    expect(await answer).toMatchObject({ i: '1', p: { b: { json: { warningAcknowledged: false } } } })
    port?.close()
  })
})

/** Electron's main-process port hands over events with `data`; Node's hands over the data. */
function asMainPort(port: MessagePort): MessagePort & MainPort {
  const on = port.on.bind(port) as (event: string, listener: (value?: unknown) => void) => unknown
  return Object.assign(port, {
    on: (event: string, listener: (value?: { data: unknown }) => void) =>
      on(event, (data) => listener(event === 'message' ? { data } : undefined)),
  })
}

function served(): {
  receive: (message: unknown) => void
  posted: unknown[]
  closed: () => boolean
  port: ServedPort
  context: CallContext
  heard: unknown[]
  log: ReturnType<typeof recordedLog>
} {
  const posted: unknown[] = []
  const heard: unknown[] = []
  const listeners: ((message: unknown) => void)[] = []
  const closers: (() => void)[] = []
  let closed = false
  const link: HostLink = {
    post: (message) => void posted.push(message),
    onMessage: (listener) => void listeners.push(listener),
    onClose: (listener) => void closers.push(listener),
    close: () => {
      closed = true
      for (const listener of closers) listener()
    },
  }
  const log = recordedLog()
  let taken: { port: ServedPort; context: CallContext } | null = null
  serveLink(
    link,
    (port, context) => {
      taken = { port, context }
      port.on('message', (event) => void heard.push(event?.data))
    },
    log,
  )
  if (taken === null) throw new Error('not served')
  const receive = (message: unknown) => listeners.forEach((listener) => listener(message))
  return {
    ...(taken as { port: ServedPort; context: CallContext }),
    receive,
    posted,
    heard,
    log,
    closed: () => closed,
  }
}

describe('one served connection', () => {
  it('is ended by anything that is no request, which is never handed on', () => {
    const bad = [
      null,
      'text',
      42,
      [],
      {},
      { i: 1, p: { u: '/a/b', b: {} } },
      { i: '1', p: { u: 'http://evil.example/a', b: {} } },
      { i: '1', p: { u: '/a/../b', b: {} } },
      { i: '1', t: 3, p: {} },
      { i: '1', t: 2, p: {} },
      { i: 'x'.repeat(65), t: 4 },
      { ack: -1 },
      { ack: Number.NaN },
      { i: '1', p: { u: '/a/b', b: 'x' } },
    ]
    for (const message of bad) {
      const { receive, closed, heard, log } = served()
      receive(message)
      expect([message, closed(), heard, log.lines.length]).toEqual([message, true, [], 1])
    }
  })

  it('takes headers and methods away from requests: only address and input count', () => {
    const { receive, heard } = served()
    const headers = { 'content-type': 'text/event-stream', 'content-disposition': 'attachment; filename="x"' }
    receive({ i: '1', p: { u: '/system/state', b: { json: 1 }, h: headers, m: 'GET' } })
    expect(heard).toEqual([{ i: '1', p: { u: '/system/state', b: { json: 1 } } }])
  })

  it('holds streams back while the page does not take what it was sent', async () => {
    const { port, context, receive } = served()
    for (let i = 0; i < SEND_WINDOW - 1; i++) port.postMessage(i)
    await context.drained()
    port.postMessage('last')
    let free = false
    const waiting = context.drained().then(() => (free = true))
    await new Promise((resolve) => setTimeout(resolve, 10))
    expect(free).toBe(false)
    receive({ ack: 8 })
    await waiting
    expect(free).toBe(true)
  })

  it('lets go of what waits when the connection ends', async () => {
    const { port, context, receive } = served()
    for (let i = 0; i < SEND_WINDOW; i++) port.postMessage(i)
    const waiting = context.drained()
    receive('nonsense')
    await waiting
    await context.drained()
  })
})
