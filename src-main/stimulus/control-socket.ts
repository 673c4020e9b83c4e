/** The display of a simulated rig in another process, driven through its control socket. */
import { createConnection, type Socket } from 'node:net'
import type { FrameLog } from '#shared/domain/capture.ts'
import { AppError, ERROR_CODES, type ErrorCode } from '#shared/domain/errors.ts'
import type { SimFault } from '#shared/domain/rig.ts'
import { SIM_CONTROL_LINE_LIMIT, simControlReplySchema, type SimControlRequest } from '#shared/domain/sim-control.ts'
import type { DrivenDisplay } from './driven-display.ts'

const ANSWER_MS = 5000

export interface ControlDisplay extends DrivenDisplay {
  inject(fault: SimFault): Promise<void>
  /** Covers or uncovers the detector. */
  cover(covered: boolean): Promise<void>
  close(): void
}

interface Waiter {
  resolve(log: FrameLog | null): void
  reject(error: AppError): void
}

type Request = SimControlRequest extends infer R ? (R extends { id: number } ? Omit<R, 'id'> : never) : never

/** Connects when it is first used, and again after the other side went away. */
export function createControlDisplay(path: string): ControlDisplay {
  const waiters = new Map<number, Waiter>()
  let socket: Socket | null = null
  let nextId = 1

  function gone(reason: string): AppError {
    return new AppError(
      'stimulus-absent',
      `The control socket ${path} of the simulated rig does not answer: ${reason}.`,
      'Start the simulated rig with --control and the same path.',
    )
  }

  function drop(reason: string): void {
    socket?.destroy()
    socket = null
    const left = [...waiters.values()]
    waiters.clear()
    for (const waiter of left) waiter.reject(gone(reason))
  }

  function connection(): Socket {
    if (socket) return socket
    const mine = createConnection(path)
    let text = ''
    mine.setEncoding('utf8')
    // A display that nobody asks anything does not keep the program alive.
    mine.unref()
    mine.on('data', (chunk: string) => {
      text += chunk
      const lines = text.split('\n')
      text = lines.pop() ?? ''
      for (const line of lines) receive(line)
      if (text.length > SIM_CONTROL_LINE_LIMIT) drop('its answer does not end')
    })
    mine.on('error', (error) => {
      if (socket === mine) drop(error.message)
    })
    mine.on('close', () => {
      if (socket === mine) drop('it was closed')
    })
    socket = mine
    return mine
  }

  function receive(line: string): void {
    const reply = simControlReplySchema.safeParse(jsonOf(line))
    if (!reply.success) {
      drop('its answer cannot be read')
      return
    }
    const waiter = waiters.get(reply.data.id)
    waiters.delete(reply.data.id)
    if (reply.data.ok) waiter?.resolve(reply.data.frameLog)
    else {
      const { code, message, remedy } = reply.data.error
      const known = ERROR_CODES.find((known): known is ErrorCode => known === code) ?? 'internal'
      waiter?.reject(new AppError(known, message, remedy))
    }
  }

  /** @param answerMs null: the answer comes when something else happens. */
  async function ask(
    request: Request,
    signal?: AbortSignal,
    answerMs: number | null = ANSWER_MS,
  ): Promise<FrameLog | null> {
    if (signal?.aborted === true) throw new AppError('cancelled', 'The work was cancelled.')
    const id = nextId++
    let timer: NodeJS.Timeout | undefined
    const onAbort = (): void => waiters.get(id)?.reject(new AppError('cancelled', 'The work was cancelled.'))
    try {
      return await new Promise<FrameLog | null>((resolve, reject) => {
        waiters.set(id, { resolve, reject })
        if (answerMs !== null) timer = setTimeout(() => reject(gone(`no answer within ${answerMs / 1000} s`)), answerMs)
        signal?.addEventListener('abort', onAbort, { once: true })
        connection().write(`${JSON.stringify({ ...request, id })}\n`)
      })
    } finally {
      waiters.delete(id)
      clearTimeout(timer)
      signal?.removeEventListener('abort', onAbort)
    }
  }

  return {
    async show(level, signal) {
      const log = await ask({ do: 'show', level }, signal)
      if (log === null) throw gone('it showed a level without a frame log')
      return log
    },
    async setRefresh(refreshHz) {
      await ask({ do: 'refresh', refreshHz })
    },
    async setSetting(setting) {
      await ask({ do: 'setting', setting })
    },
    async setPatch(patch) {
      await ask({ do: 'patch', patch })
    },
    async setRow(row) {
      await ask({ do: 'row', row })
    },
    async setView(view) {
      await ask({ do: 'view', view })
    },
    async react(level, signal) {
      await ask({ do: 'react', level }, signal, null)
    },
    async inject(fault) {
      await ask({ do: 'fault', fault })
    },
    async cover(covered) {
      await ask({ do: 'cover', covered })
    },
    close() {
      drop('it was closed')
    },
  }
}

/** One fault to the simulated rig behind a control socket, as the rig manager hands it over. */
export async function injectAtSocket(path: string, fault: SimFault): Promise<void> {
  const display = createControlDisplay(path)
  try {
    await display.inject(fault)
  } finally {
    display.close()
  }
}

function jsonOf(line: string): unknown {
  try {
    return JSON.parse(line)
  } catch {
    return undefined
  }
}
