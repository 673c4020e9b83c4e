/** The two carriers a page has: a message port of the desktop, or a WebSocket. */
import {
  decodeFrame,
  encodeFrame,
  MAX_FRAME_BYTES,
  PORT_ANSWER,
  RPC_PATH,
  RPC_PROTOCOL,
  SESSION_PATH,
} from '#shared/contract/wire.ts'
import { AppError } from '#shared/domain/errors.ts'
import type { DesktopBridge } from './bridge.ts'
import type { Link } from './port.ts'

/** Message port through the preload script. */
export function openPortLink(bridge: DesktopBridge, signal: AbortSignal): Promise<Link> {
  return new Promise((resolve, reject) => {
    const settle = () => {
      removeEventListener('message', take)
      signal.removeEventListener('abort', fail)
    }
    const fail = () => {
      settle()
      reject(new AppError('timeout', 'The host did not answer.', 'Close the window and open the program again.'))
    }
    const take = (event: MessageEvent) => {
      const port = event.ports[0]
      if (event.source !== window || event.data !== PORT_ANSWER || port === undefined) return
      settle()
      resolve(portLink(port))
    }
    addEventListener('message', take)
    signal.addEventListener('abort', fail)
    bridge.requestPort()
  })
}

function portLink(port: MessagePort): Link {
  const closed = new Set<() => void>()
  port.addEventListener('close', () => closed.forEach((listener) => listener()))
  return {
    post: (message) => port.postMessage(message),
    onMessage: (listener) => {
      port.addEventListener('message', (event) => listener(event.data))
      port.start()
    },
    onClose: (listener) => closed.add(listener),
    close: () => {
      port.close()
      closed.forEach((listener) => listener())
    },
  }
}

/** Where the secret outlives a reload. Only pages of this origin, port included, read it. */
const SECRET_KEY = 'slewlight-session'
let secret: string | null = null

/** The token of the address until a server has answered it; a server that is not reachable yet is asked again. */
let unspent: string | null = null

/**
 * Exchanges the token of the address for the secret of a session, or takes the one kept from before. The token leaves
 * the address bar before the question: whoever goes to a screen meanwhile stays there.
 * @throws AppError `conflict` when the server knows neither; TypeError when it is not reachable.
 */
export async function openSession(): Promise<string> {
  const found = new URLSearchParams(location.hash.slice(1)).get('token')
  if (found !== null) {
    unspent = found
    history.replaceState(null, '', location.pathname + location.search)
  }
  if (unspent !== null) {
    const answer = await fetch(SESSION_PATH, {
      method: 'POST',
      headers: { 'content-type': 'application/json' },
      body: JSON.stringify({ token: unspent }),
    })
    unspent = null
    const given: unknown = answer.ok ? await answer.json() : null
    if (typeof given === 'object' && given !== null && 'secret' in given && typeof given.secret === 'string')
      return keep(given.secret)
  }
  // A token that was used before: by this browser, perhaps, which then kept the secret.
  const kept = secret ?? localStorage.getItem(SECRET_KEY)
  if (kept !== null && (await fetch(SESSION_PATH, { headers: { authorization: `Bearer ${kept}` } })).ok)
    return keep(kept)
  throw new AppError(
    'conflict',
    'This address is not valid for the running server.',
    'Open the address that the server printed last; each is good for one browser.',
  )
}

function keep(known: string): string {
  secret = known
  localStorage.setItem(SECRET_KEY, known)
  return known
}

export function openSocketLink(known: string, signal: AbortSignal): Promise<Link> {
  const address = `${location.protocol === 'https:' ? 'wss' : 'ws'}://${location.host}${RPC_PATH}`
  const socket = new WebSocket(address, [RPC_PROTOCOL, known])
  socket.binaryType = 'arraybuffer'
  return new Promise((resolve, reject) => {
    const fail = () => reject(new AppError('timeout', 'The server does not answer.', 'Check that it is still running.'))
    signal.addEventListener('abort', () => {
      if (socket.readyState === WebSocket.CONNECTING) socket.close()
    })
    socket.addEventListener('close', fail)
    socket.addEventListener('open', () => resolve(socketLink(socket)))
  })
}

function socketLink(socket: WebSocket): Link {
  return {
    post: (message) => {
      const frame = encodeFrame(message)
      // Text is counted at its worst, three bytes per code unit.
      const bytes = typeof frame === 'string' ? frame.length * 3 : frame.byteLength
      if (bytes > MAX_FRAME_BYTES && byteLength(frame) > MAX_FRAME_BYTES)
        throw new AppError('invalid-input', 'This is more than can be sent at once.', 'Send fewer files at a time.')
      if (socket.readyState === WebSocket.OPEN) socket.send(frame)
    },
    onMessage: (listener) => {
      socket.addEventListener('message', (event: MessageEvent<string | ArrayBuffer>) =>
        listener(decodeFrame(event.data)),
      )
    },
    onClose: (listener) => socket.addEventListener('close', listener),
    close: () => socket.close(),
  }
}

function byteLength(frame: string | Uint8Array): number {
  return typeof frame === 'string' ? new Blob([frame]).size : frame.byteLength
}
