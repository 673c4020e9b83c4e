/** The control socket of a simulated rig in a process of its own (`sim-control.ts` has the lines). */
import { chmodSync, lstatSync, unlinkSync } from 'node:fs'
import { createServer, type Server, type Socket } from 'node:net'
import type { FrameLog } from '#shared/domain/capture.ts'
import { AppError, toErrorDetail } from '#shared/domain/errors.ts'
import {
  SIM_CONTROL_LINE_LIMIT,
  simControlRequestSchema,
  type SimControlReply,
  type SimControlRequest,
} from '#shared/domain/sim-control.ts'

export interface ControlServer {
  close(): Promise<void>
}

type Handler = (request: SimControlRequest, signal: AbortSignal) => Promise<FrameLog | null>

/** Listens on a Unix socket that only its owner may use. Rejects with `conflict` when the path is taken. */
export async function startControlServer(path: string, handle: Handler): Promise<ControlServer> {
  removeStaleSocket(path)
  const sockets = new Set<Socket>()
  const server = createServer((socket) => {
    sockets.add(socket)
    serve(socket, handle, () => sockets.delete(socket))
  })
  await listen(server, path)
  chmodSync(path, 0o600)
  return {
    close: () =>
      new Promise((resolve) => {
        for (const socket of sockets) socket.destroy()
        server.close(() => resolve())
      }),
  }
}

/** A socket left behind by a process that was killed is in the way; anything else at that path is not ours to remove. */
function removeStaleSocket(path: string): void {
  try {
    if (!lstatSync(path).isSocket())
      throw new AppError(
        'conflict',
        `There is something else at ${path}.`,
        'Choose another path for the control socket.',
      )
    unlinkSync(path)
  } catch (error) {
    if (error instanceof AppError) throw error
    if ((error as NodeJS.ErrnoException).code !== 'ENOENT') throw error
  }
}

function listen(server: Server, path: string): Promise<void> {
  return new Promise((resolve, reject) => {
    server.once('error', (error) =>
      reject(
        new AppError(
          'conflict',
          `The control socket ${path} could not be opened: ${error.message}`,
          'Choose another path.',
        ),
      ),
    )
    server.listen(path, resolve)
  })
}

function serve(socket: Socket, handle: Handler, onEnd: () => void): void {
  const ended = new AbortController()
  let text = ''
  const reply = (message: SimControlReply): void => {
    if (!socket.destroyed) socket.write(`${JSON.stringify(message)}\n`)
  }
  socket.setEncoding('utf8')
  socket.on('data', (chunk: string) => {
    text += chunk
    const lines = text.split('\n')
    text = lines.pop() ?? ''
    for (const line of lines) if (line.trim() !== '') void answer(line, handle, ended.signal).then(reply)
    if (text.length > SIM_CONTROL_LINE_LIMIT) socket.destroy()
  })
  socket.on('error', () => socket.destroy())
  socket.on('close', () => {
    ended.abort()
    onEnd()
  })
}

async function answer(line: string, handle: Handler, signal: AbortSignal): Promise<SimControlReply> {
  let id = -1
  try {
    const json: unknown = JSON.parse(line)
    const given = (json as { id?: unknown } | null)?.id
    if (typeof given === 'number' && Number.isSafeInteger(given)) id = given
    const parsed = simControlRequestSchema.safeParse(json)
    if (!parsed.success)
      throw new AppError('invalid-input', `Not a control request: ${parsed.error.issues[0]?.message}.`)
    return { id, ok: true, frameLog: await handle(parsed.data, signal) }
  } catch (error) {
    if (error instanceof SyntaxError)
      return { id, ok: false, error: { code: 'invalid-input', message: 'The line is not JSON.', remedy: '' } }
    return { id, ok: false, error: toErrorDetail(error) }
  }
}
