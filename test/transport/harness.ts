/** The whole way of a call without a browser: client endpoint, wire, transport, handlers, fake core. */
import { MessageChannel } from 'node:worker_threads'
import { createORPCClient } from '@orpc/client'
import { WebSocket } from 'ws'
import { createApi } from '#main/api/handler.ts'
import { serveLink, type ServedPort } from '#main/transport/serve.ts'
import { startLoopback, type Loopback } from '#main/transport/loopback.ts'
import { createPageStimulus } from '#main/stimulus/page.ts'
import { createClock } from '#main/platform/clock.ts'
import {
  decodeFrame,
  encodeFrame,
  RPC_PATH,
  RPC_PROTOCOL,
  SESSION_PATH,
  type CallContext,
} from '#shared/contract/wire.ts'
import { AppError } from '#shared/domain/errors.ts'
import type { Client } from '../../src-renderer/client/client.ts'
import { Endpoint } from '../../src-renderer/client/endpoint.ts'
import type { Link } from '../../src-renderer/client/port.ts'
import { fakeCore, recordedLog, type FakeCore, type RecordedLog } from './fake-core.ts'

export interface Host extends FakeCore {
  readonly log: RecordedLog
  readonly serve: (port: ServedPort, context: CallContext) => void
  readonly page: ReturnType<typeof createPageStimulus>
}

export function fakeHost(): Host {
  const fake = fakeCore()
  const log = recordedLog()
  const page = createPageStimulus({ clock: createClock(), log })
  const windows = {
    screens: () => [],
    open: async () => {
      throw new AppError('conflict', 'There is no window here.')
    },
    close: async () => undefined,
  }
  const api = createApi({ core: fake.core, page, windows, archives: null, chooseArchives: null, log })
  return { ...fake, log, page, serve: api.serve }
}

export const tokenOf = (address: string): string => /#token=([0-9a-f]{32})$/.exec(address)?.[1] ?? ''

/** Exchanges the token of the address for the secret of a session as the page does. */
export async function sessionSecret(loopback: Loopback): Promise<string> {
  const answer = await fetch(loopback.origin + SESSION_PATH, {
    method: 'POST',
    headers: { origin: loopback.origin, 'content-type': 'application/json' },
    body: JSON.stringify({ token: tokenOf(loopback.url) }),
  })
  if (answer.status !== 200) throw new AppError('conflict', `no session: ${answer.status}`)
  return ((await answer.json()) as { secret: string }).secret
}

export function nodeSocketLink(origin: string, secret: string): Promise<Link> {
  const socket = new WebSocket(origin.replace('http:', 'ws:') + RPC_PATH, [RPC_PROTOCOL, secret], { origin })
  return new Promise((resolve, reject) => {
    socket.on('error', reject)
    socket.on('open', () =>
      resolve({
        post: (message) => socket.send(encodeFrame(message)),
        onMessage: (listener) =>
          socket.on('message', (data, binary) =>
            listener(decodeFrame(binary ? (data as Buffer) : (data as Buffer).toString('utf8'))),
          ),
        onClose: (listener) => socket.on('close', listener),
        close: () => socket.close(),
      }),
    )
  })
}

export function clientOver(endpoint: Endpoint): Client {
  return createORPCClient<Client>(endpoint)
}

export async function loopbackHost(root: string): Promise<{
  host: Host
  loopback: Loopback
  endpoint: Endpoint
  client: Client
  close: () => Promise<void>
}> {
  const host = fakeHost()
  const loopback = await startLoopback({ serve: host.serve, root, log: host.log })
  const secret = await sessionSecret(loopback)
  const endpoint = new Endpoint({ open: () => nodeSocketLink(loopback.origin, secret), firstPauseMs: 10 })
  return {
    host,
    loopback,
    endpoint,
    client: clientOver(endpoint),
    close: async () => {
      endpoint.close()
      await loopback.close()
    },
  }
}

/** A host at the other end of a message port, as on the desktop. */
export function channelHost(): { host: Host; client: Client; endpoint: Endpoint; close: () => Promise<void> } {
  const host = fakeHost()
  const links = new Set<Link>()
  const endpoint = new Endpoint({
    open: async () => {
      const { port1, port2 } = new MessageChannel()
      const end = (port: typeof port1): Link => ({
        post: (message) => port.postMessage(message),
        onMessage: (listener) => void port.on('message', listener),
        onClose: (listener) => void port.on('close', listener),
        close: () => port.close(),
      })
      serveLink(end(port1), host.serve, host.log)
      const link = end(port2)
      links.add(link)
      return link
    },
    firstPauseMs: 5,
  })
  return { host, client: clientOver(endpoint), endpoint, close: async () => endpoint.close() }
}
