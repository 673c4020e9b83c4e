/**
 * The interface on the loopback address. Any web page and any program on this machine can reach the port, so: it
 * listens on 127.0.0.1 only; Host and Origin are compared whole; and nothing answers without the run's token, which
 * travels in the address' fragment and is exchanged once for a cookie no script can read.
 */
import { createHash, randomBytes, timingSafeEqual } from 'node:crypto'
import { createReadStream } from 'node:fs'
import { createServer, type IncomingMessage, type Server, type ServerResponse } from 'node:http'
import type { AddressInfo } from 'node:net'
import type { Duplex } from 'node:stream'
import { WebSocketServer, type WebSocket } from 'ws'
import type { Log } from '#main/core/ports.ts'
import { decodeFrame, encodeFrame, MAX_FRAME_BYTES, RPC_PATH, SESSION_PATH } from '#shared/contract/wire.ts'
import { AppError } from '#shared/domain/errors.ts'
import { findFile, securityHeaders } from './files.ts'
import { serveLink, type HostLink, type Serve } from './serve.ts'

const ADDRESS = '127.0.0.1'
/** Bytes waiting for one page above which it counts as gone. */
const STUCK_BYTES = 512 * 1024 * 1024

export interface LoopbackOptions {
  readonly serve: Serve
  /** Folder of the built interface. */
  readonly root: string
  /** 0 or absent: any free port. */
  readonly port?: number
  readonly log: Log
}

export interface Loopback {
  readonly origin: string
  readonly token: string
  /** Address to open, token included. */
  readonly url: string
  /** Address of the page for the display under test. */
  readonly stimulusUrl: string
  close(): Promise<void>
}

/** @throws AppError `conflict` when the port is taken, `invalid-input` when it may not be used. */
export async function startLoopback({ serve, root, port = 0, log }: LoopbackOptions): Promise<Loopback> {
  const token = randomBytes(16).toString('hex')
  const session = randomBytes(16).toString('hex')
  const sockets = new WebSocketServer({ noServer: true, maxPayload: MAX_FRAME_BYTES, perMessageDeflate: false })
  const server = createServer()
  const bound = await listen(server, port)
  const host = `${ADDRESS}:${bound}`
  const origin = `http://${host}`
  const cookie = `slewlight-${bound}`
  const headers = securityHeaders(`ws://${host}`)

  const hasSession = (request: IncomingMessage): boolean =>
    cookies(request.headers.cookie).some(([name, value]) => name === cookie && sameSecret(value, session))

  const answer = (response: ServerResponse, status: number, extra: Record<string, string> = {}): void => {
    response.writeHead(status, { ...headers, 'cache-control': 'no-store', ...extra })
    response.end()
  }

  const openSession = async (request: IncomingMessage, response: ServerResponse): Promise<void> => {
    if (request.method === 'GET') {
      answer(response, hasSession(request) ? 204 : 401)
      return
    }
    if (request.method !== 'POST') {
      answer(response, 405)
      return
    }
    const given = request.headers.origin === origin ? await readToken(request) : null
    if (given === null || !sameSecret(given, token)) {
      log.warn('A page asked for a session without the token; it was refused.', {
        origin: request.headers.origin ?? '',
      })
      answer(response, 401)
      return
    }
    answer(response, 204, { 'set-cookie': `${cookie}=${session}; HttpOnly; SameSite=Strict; Path=/` })
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
    else
      createReadStream(file.path)
        .on('error', () => response.destroy())
        .pipe(response)
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
    const problem = refusal(request, host, origin, hasSession(request))
    if (problem !== null) {
      log.warn('A connection was refused.', { status: problem, origin: request.headers.origin ?? '' })
      socket.end(`HTTP/1.1 ${problem}\r\nConnection: close\r\nContent-Length: 0\r\n\r\n`)
      return
    }
    sockets.handleUpgrade(request, socket, head, (webSocket) => serveLink(socketLink(webSocket, log), serve, log))
  })

  return {
    origin,
    token,
    url: `${origin}/#token=${token}`,
    stimulusUrl: `${origin}/stimulus.html#token=${token}`,
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

function cookies(header: string | undefined): [string, string][] {
  return (header ?? '').split(';').map((part) => {
    const at = part.indexOf('=')
    return [part.slice(0, at).trim(), part.slice(at + 1).trim()]
  })
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
  socket.on('error', (error) => log.warn('A connection failed.', { error: error.message }))
  return {
    post(message) {
      if (socket.readyState !== socket.OPEN) return
      if (socket.bufferedAmount > STUCK_BYTES) socket.terminate()
      else socket.send(encodeFrame(message))
    },
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
