/**
 * The interface on the loopback address. Any web page and any program on this machine can reach the port, so: it
 * listens on 127.0.0.1 only; Host and Origin are compared whole; and nothing answers without a secret. Each printed
 * address holds a token in its fragment that is good once, for the secret of a session. Pages keep the secret where
 * only their origin, port included, can read it, and send it with the handshake of the socket. Not a cookie: browsers
 * send those to every port of the address, where any program may listen.
 */
import { createHash, randomBytes, timingSafeEqual } from 'node:crypto'
import { createReadStream } from 'node:fs'
import { createServer, type IncomingMessage, type Server, type ServerResponse } from 'node:http'
import type { AddressInfo } from 'node:net'
import type { Duplex } from 'node:stream'
import { pipeline } from 'node:stream/promises'
import { WebSocketServer, type WebSocket } from 'ws'
import type { Log } from '#main/core/ports.ts'
import {
  decodeFrame,
  encodeFrame,
  MAX_FRAME_BYTES,
  RPC_PATH,
  RPC_PROTOCOL,
  SESSION_PATH,
} from '#shared/contract/wire.ts'
import { AppError } from '#shared/domain/errors.ts'
import { findFile, securityHeaders } from './files.ts'
import { serveLink, type HostLink, type Serve } from './serve.ts'

const ADDRESS = '127.0.0.1'
const MAIN_PAGE = ''
const STIMULUS_PAGE = 'stimulus.html'
/** Pages that may be let in one after the other; beyond that the oldest lose their place. */
const MAX_SESSIONS = 1000
/** Bytes waiting for one page above which it counts as gone. */
const STUCK_BYTES = 192 * 1024 * 1024

export interface LoopbackOptions {
  readonly serve: Serve
  /** Folder of the built interface. */
  readonly root: string
  /** 0 or absent: any free port. */
  readonly port?: number
  readonly log: Log
  /** Told when an address was used: `next` takes its place. */
  readonly onUsed?: (next: string) => void
}

export interface Loopback {
  readonly origin: string
  /** Address to open, with the token that is good now, and once. */
  readonly url: string
  /** Address of the page for the display under test. */
  readonly stimulusUrl: string
  close(): Promise<void>
}

/** @throws AppError `conflict` when the port is taken, `invalid-input` when it may not be used. */
export async function startLoopback({ serve, root, port = 0, log, onUsed }: LoopbackOptions): Promise<Loopback> {
  const secrets = createSecrets()
  const sockets = new WebSocketServer({
    noServer: true,
    maxPayload: MAX_FRAME_BYTES,
    perMessageDeflate: false,
    // The secret is not repeated in the answer.
    handleProtocols: () => RPC_PROTOCOL,
  })
  const server = createServer()
  const bound = await listen(server, port)
  const host = `${ADDRESS}:${bound}`
  const origin = `http://${host}`
  const headers = securityHeaders(`ws://${host}`)

  const addressOf = (page: string): string => `${origin}/${page}#token=${secrets.token(page)}`

  const answer = (response: ServerResponse, status: number, extra: Record<string, string> = {}): void => {
    response.writeHead(status, { ...headers, 'cache-control': 'no-store', ...extra })
    response.end()
  }

  const openSession = async (request: IncomingMessage, response: ServerResponse): Promise<void> => {
    if (request.method === 'GET') {
      const [, given = ''] = /^Bearer ([0-9a-f]{32})$/.exec(request.headers.authorization ?? '') ?? []
      answer(response, secrets.knows(given) ? 204 : 401)
      return
    }
    if (request.method !== 'POST') {
      answer(response, 405)
      return
    }
    const given = request.headers.origin === origin ? await readToken(request) : null
    const opened = given === null ? null : secrets.exchange(given)
    if (opened === null) {
      log.warn('A page asked for a session without a valid token; it was refused.', {
        origin: request.headers.origin ?? '',
      })
      answer(response, 401)
      return
    }
    const body = JSON.stringify({ secret: opened.secret })
    response.writeHead(200, {
      ...headers,
      'cache-control': 'no-store',
      'content-type': 'application/json; charset=utf-8',
      'content-length': body.length,
    })
    response.end(body)
    onUsed?.(addressOf(opened.page))
  }

  const respond = async (request: IncomingMessage, response: ServerResponse): Promise<void> => {
    if (request.headers.host !== host) {
      answer(response, 403)
      return
    }
    const path = (request.url ?? '/').split('?', 1)[0] ?? '/'
    if (path === SESSION_PATH) {
      await openSession(request, response)
      return
    }
    if (request.method !== 'GET' && request.method !== 'HEAD') {
      answer(response, 405)
      return
    }
    const file = await findFile(root, path)
    if (file === null) {
      answer(response, 404)
      return
    }
    response.writeHead(200, {
      ...headers,
      'content-type': file.type,
      'content-length': file.bytes,
      'cache-control': file.immutable ? 'private, max-age=31536000, immutable' : 'no-cache',
    })
    if (request.method === 'HEAD') response.end()
    // A reader that leaves takes the open file with it.
    else await pipeline(createReadStream(file.path), response).catch(() => undefined)
  }

  server.on('request', (request, response) => {
    respond(request, response).catch((error: unknown) => {
      log.error('A file could not be served.', { error: String(error) })
      if (!response.headersSent) answer(response, 500)
      else response.destroy()
    })
  })
  server.on('upgrade', (request: IncomingMessage, socket: Duplex, head: Buffer) => {
    socket.on('error', () => socket.destroy())
    const problem = refusal(request, host, origin, secrets.knows(offeredSecret(request)))
    if (problem !== null) {
      log.warn('A connection was refused.', { status: problem, origin: request.headers.origin ?? '' })
      socket.end(`HTTP/1.1 ${problem}\r\nConnection: close\r\nContent-Length: 0\r\n\r\n`)
      return
    }
    sockets.handleUpgrade(request, socket, head, (webSocket) => serveLink(socketLink(webSocket, log), serve, log))
  })

  return {
    origin,
    get url() {
      return addressOf(MAIN_PAGE)
    },
    get stimulusUrl() {
      return addressOf(STIMULUS_PAGE)
    },
    close: () =>
      new Promise((resolve) => {
        for (const socket of sockets.clients) socket.terminate()
        server.close(() => resolve())
        server.closeAllConnections()
      }),
  }
}

function listen(server: Server, port: number): Promise<number> {
  return new Promise((resolve, reject) => {
    server.once('error', (error: NodeJS.ErrnoException) => {
      if (error.code === 'EADDRINUSE')
        reject(new AppError('conflict', `Port ${port} is already in use.`, 'Choose another port with --port.'))
      else
        reject(new AppError('invalid-input', `Port ${port} cannot be used: ${error.message}`, 'Choose another port.'))
    })
    server.listen({ host: ADDRESS, port, exclusive: true }, () => resolve((server.address() as AddressInfo).port))
  })
}

/** Status line of the refusal of a WebSocket, or null. Browsers always send Origin here, and only they are let in. */
function refusal(request: IncomingMessage, host: string, origin: string, session: boolean): string | null {
  if (request.url !== RPC_PATH) return '404 Not Found'
  if (request.headers.host !== host || request.headers.origin !== origin) return '403 Forbidden'
  return session ? null : '401 Unauthorized'
}

/** The second protocol a page offers beside ours is its secret: the one header of the handshake a page can fill. */
function offeredSecret(request: IncomingMessage): string {
  const [protocol, secret = '', ...more] = (request.headers['sec-websocket-protocol'] ?? '').split(/, */)
  return protocol === RPC_PROTOCOL && more.length === 0 ? secret : ''
}

interface Secrets {
  /** The token that is good for one page now. */
  token(page: string): string
  /** A new session for a token, which is used up; null when it is none. */
  exchange(token: string): { readonly page: string; readonly secret: string } | null
  knows(secret: string): boolean
}

function createSecrets(): Secrets {
  const fresh = (): string => randomBytes(16).toString('hex')
  const tokens = new Map([MAIN_PAGE, STIMULUS_PAGE].map((page) => [page, fresh()]))
  const sessions = new Set<string>()
  return {
    token: (page) => tokens.get(page) ?? '',
    exchange(given) {
      for (const [page, token] of tokens) {
        if (!sameSecret(given, token)) continue
        tokens.set(page, fresh())
        const secret = fresh()
        sessions.add(secret)
        const [oldest] = sessions
        if (sessions.size > MAX_SESSIONS && oldest !== undefined) sessions.delete(oldest)
        return { page, secret }
      }
      return null
    },
    knows: (given) => [...sessions].some((secret) => sameSecret(given, secret)),
  }
}

const digest = (text: string): Buffer => createHash('sha256').update(text).digest()

/** Compares digests, so that neither length nor first difference shows in the time taken. */
function sameSecret(given: string, secret: string): boolean {
  return timingSafeEqual(digest(given), digest(secret))
}

async function readToken(request: IncomingMessage): Promise<string | null> {
  let body = ''
  for await (const chunk of request) {
    body += String(chunk)
    if (body.length > 1024) return null
  }
  try {
    const parsed: unknown = JSON.parse(body)
    if (typeof parsed !== 'object' || parsed === null || !('token' in parsed)) return null
    return typeof parsed.token === 'string' ? parsed.token : null
  } catch {
    return null
  }
}

function socketLink(socket: WebSocket, log: Log): HostLink {
  const taken: (() => void)[] = []
  socket.on('error', (error) => log.warn('A connection failed.', { error: error.message }))
  return {
    post(message) {
      if (socket.readyState !== socket.OPEN) return
      if (socket.bufferedAmount > STUCK_BYTES) socket.terminate()
      else
        socket.send(encodeFrame(message), () => {
          for (const listener of taken) listener()
        })
    },
    waiting: () => socket.bufferedAmount,
    onTaken: (listener) => void taken.push(listener),
    onMessage(listener) {
      socket.on('message', (data, isBinary) => {
        let message: unknown
        try {
          // The default binary type hands over one Buffer, for text too.
          const bytes = data as Buffer
          message = decodeFrame(isBinary ? bytes : bytes.toString('utf8'))
        } catch {
          socket.close(1007, 'not a frame')
          return
        }
        listener(message)
      })
    },
    onClose: (listener) => void socket.on('close', listener),
    close: () => socket.terminate(),
  }
}
