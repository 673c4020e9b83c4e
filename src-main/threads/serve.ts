import type { MessagePort } from 'node:worker_threads'
import { AppError, type ErrorDetail, toErrorDetail } from '#shared/domain/errors.ts'
import type { Calls, CallMessage, ReplyMessage } from './messages.ts'

export interface ServeOptions {
  /** What the caller is told of an error; `toErrorDetail` when absent. */
  readonly detail?: (error: unknown) => ErrorDetail
  /** Memory of an answer that is handed over instead of copied. */
  readonly transfer?: (name: string, args: readonly unknown[], value: unknown) => ArrayBuffer[]
  /** Closes what is open before the thread leaves. */
  readonly leave?: () => void
}

/** Answers calls in order; an error of one is its answer and spoils no other. */
export function serveCalls(port: MessagePort, calls: Calls, options: ServeOptions = {}): void {
  const { detail = toErrorDetail, transfer } = options
  port.on('message', (message: CallMessage) => {
    if ('leave' in message) {
      // A thread that runs out of work frees what it holds in its own time; one that is terminated may be freeing it just then.
      try {
        options.leave?.()
      } finally {
        port.close()
      }
      return
    }
    const { id, name, args } = message
    const started = performance.now()
    try {
      if (!Object.hasOwn(calls, name)) throw new AppError('internal', `The thread knows no call ${name}.`)
      const value = (calls[name] as (...given: readonly unknown[]) => unknown)(...args)
      const reply: ReplyMessage = { id, ms: performance.now() - started, value }
      port.postMessage(reply, transfer?.(name, args, value) ?? [])
    } catch (error) {
      const reply: ReplyMessage = { id, ms: performance.now() - started, error: detail(error) }
      port.postMessage(reply, [])
    }
  })
  const ready: ReplyMessage = { ready: true }
  port.postMessage(ready, [])
}
