/** The host's end of one connection, the same for message ports and WebSockets. */
import { randomUUID } from 'node:crypto'
import { z } from 'zod'
import type { Log } from '#main/core/ports.ts'
import { isAckFrame, SEND_WINDOW, type CallContext } from '#shared/contract/wire.ts'

/** Carries plain objects (typed arrays in them) to and from one page. */
export interface HostLink {
  /** Never throws; a message to a closed link is dropped. */
  post(message: unknown): void
  onMessage(listener: (message: unknown) => void): void
  onClose(listener: () => void): void
  close(): void
  /** Bytes posted that the other side has not taken yet; absent where that is not known. */
  waiting?(): number
  /** Tells when the other side took something. */
  onTaken?(listener: () => void): void
}

/** Requests of one page that are worked on at a time. */
const MAX_OPEN = 24
/** Above so many bytes waiting for a page, its next requests wait too. */
const MAX_WAITING_BYTES = 16 * 1024 * 1024
/** Requests that wait, beyond which the page is not one of ours. */
const MAX_QUEUED = 10_000

export interface ServedPort {
  on(event: string, listener: (event?: { data: unknown }) => void): void
  postMessage(message: unknown): void
  /** Ends the connection; a page of ours connects again. */
  close(): void
}
/** Answers the requests that arrive at a port; see api/handler.ts. */
export type Serve = (port: ServedPort, context: CallContext) => void

const messageId = z.string().min(1).max(64)
/** The only messages a page may send: a request, the cancelling of one, and the acknowledging of what it took. */
const incomingSchema = z.union([
  z.strictObject({ ack: z.int().min(1).max(1_000_000) }),
  z.strictObject({ i: messageId, t: z.literal(4), p: z.undefined().optional() }),
  z.strictObject({
    i: messageId,
    t: z.undefined().optional(),
    p: z.object({
      u: z.string().regex(/^\/[A-Za-z]{1,40}\/[A-Za-z]{1,40}$/),
      b: z
        .object({ json: z.unknown().optional(), meta: z.array(z.array(z.unknown()).max(100)).max(10_000).optional() })
        .default({
          json: undefined,
        }),
    }),
  }),
])

type Incoming = Exclude<z.infer<typeof incomingSchema>, { ack: number }>

/**
 * Serves one link until it closes. Requests of a page that does not take its answers wait, so that a page that never
 * reads costs a bounded amount of memory: what waits for it, and the answers of the requests already begun. A message of any other shape ends the connection: it cannot come from our page.
 */
export function serveLink(link: HostLink, serve: Serve, log: Log): void {
  let outstanding = 0
  let closed = false
  let waiting: (() => void)[] = []
  const release = (): void => {
    if (!closed && outstanding >= SEND_WINDOW) return
    for (const wake of waiting) wake()
    waiting = []
  }
  const context: CallContext = {
    connection: randomUUID(),
    drained: () =>
      closed || outstanding < SEND_WINDOW
        ? Promise.resolve()
        : new Promise((resolve) => {
            waiting.push(resolve)
          }),
  }
  const open = new Set<string>()
  const queue: Incoming[] = []
  let listener: (event?: { data: unknown }) => void = () => undefined
  const next = (): void => {
    while (queue.length > 0 && open.size < MAX_OPEN && (link.waiting?.() ?? 0) < MAX_WAITING_BYTES) {
      const request = queue.shift()
      if (request === undefined) return
      open.add(request.i)
      listener({ data: request })
    }
  }
  const accept = (message: Incoming): void => {
    if (closed) return
    if (message.t === undefined) {
      queue.push(message)
      if (queue.length > MAX_QUEUED) link.close()
      else next()
      return
    }
    const waitingAt = queue.findIndex(({ i }) => i === message.i)
    if (waitingAt >= 0) queue.splice(waitingAt, 1)
    else listener({ data: message })
  }
  link.onTaken?.(next)
  link.onClose(() => {
    closed = true
    queue.length = 0
    release()
  })
  const port: ServedPort = {
    close: () => link.close(),
    postMessage(message) {
      outstanding += 1
      link.post(message)
      if (isAnswer(message) && open.delete(message.i)) next()
    },
    on(event, heard) {
      if (event === 'close') link.onClose(() => heard())
      if (event !== 'message') return
      listener = heard
      link.onMessage((message) => {
        const checked = incomingSchema.safeParse(message)
        if (!checked.success) {
          log.warn('A page sent something that is not a request; its connection was closed.', {
            problem: checked.error.issues[0]?.message ?? '',
          })
          link.close()
          return
        }
        if (isAckFrame(checked.data)) {
          outstanding = Math.max(0, outstanding - checked.data.ack)
          release()
          return
        }
        accept(checked.data)
      })
    },
  }
  serve(port, context)
}

function isAnswer(message: unknown): message is { readonly i: string } {
  return typeof message === 'object' && message !== null && 'i' in message && typeof message.i === 'string'
}
