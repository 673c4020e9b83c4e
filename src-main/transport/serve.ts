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
}

export interface ServedPort {
  on(event: string, listener: (event?: { data: unknown }) => void): void
  postMessage(message: unknown): void
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

/**
 * Serves one link until it closes. A message of any other shape ends the connection: it cannot come from our page.
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
  link.onClose(() => {
    closed = true
    release()
  })
  const port: ServedPort = {
    postMessage(message) {
      outstanding += 1
      link.post(message)
    },
    on(event, listener) {
      if (event === 'close') link.onClose(() => listener())
      if (event !== 'message') return
      link.onMessage((message) => {
        const checked = incomingSchema.safeParse(message)
        if (!checked.success) {
          log.warn('A page sent something that is no request; its connection was ended.', {
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
        listener({ data: checked.data })
      })
    },
  }
  serve(port, context)
}
