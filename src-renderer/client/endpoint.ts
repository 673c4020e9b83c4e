/**
 * The caller's end of the contract: connects, connects again with growing pauses when the line breaks, gives every
 * call a time limit and turns every failure into an AppError.
 */
import { ORPCError, type ClientLink, type ClientOptions } from '@orpc/client'
import { RPCLink } from '@orpc/client/message-port'
import { AppError, type ErrorDetail } from '#shared/domain/errors.ts'
import { asAppError } from './errors.ts'
import { keepTrying } from './keep-trying.ts'
import { asPort, type Link } from './port.ts'

/** Per call: how long to wait for the answer, ms. */
export interface CallOptions {
  readonly timeoutMs?: number
}

export type ConnectionState =
  | { readonly kind: 'connecting' }
  | { readonly kind: 'open' }
  /** The line broke; it is tried again at growing intervals. */
  | { readonly kind: 'lost'; readonly attempts: number }
  /** The host refuses this page; nothing is tried any more. */
  | { readonly kind: 'refused'; readonly detail: ErrorDetail }

export interface EndpointOptions {
  /** Opens one connection; rejects with AppError `conflict` when trying again is useless. */
  readonly open: (signal: AbortSignal) => Promise<Link>
  readonly firstPauseMs?: number
  readonly longestPauseMs?: number
}

const CONNECT_MS = 10_000
const CALL_MS = 30_000
/** Calls that may rightly take longer than others, ms. */
const LONG_CALLS: Readonly<Record<string, number>> = {
  'system.openArchive': 300_000,
  'rig.connect': 90_000,
  'rig.disconnect': 60_000,
  'sweeps.start': 60_000,
  'sweeps.stop': 60_000,
  'sweeps.matrix': 120_000,
  'captures.list': 120_000,
  'recipes.previewSample': 300_000,
  'recipes.compare': 120_000,
  'files.importPreview': 120_000,
  'files.stage': 120_000,
}

const lost = () =>
  new AppError('cancelled', 'The connection to the host broke before it answered.', 'It is being set up again.')

export class Endpoint implements ClientLink<CallOptions> {
  readonly #options: EndpointOptions
  readonly #listeners = new Set<() => void>()
  #state: ConnectionState = { kind: 'connecting' }
  #inner: RPCLink<CallOptions> | null = null
  #link: Link | null = null
  readonly #end = new AbortController()

  constructor(options: EndpointOptions) {
    this.#options = options
    void this.#run()
  }

  state = (): ConnectionState => this.#state

  onState = (listener: () => void): (() => void) => {
    this.#listeners.add(listener)
    return () => this.#listeners.delete(listener)
  }

  /** Ends the present connection; the next one is set up as after any break. */
  drop(): void {
    this.#link?.close()
  }

  close(): void {
    this.#end.abort()
    this.drop()
  }

  /** Resolves once connected; rejects with AppError when refused or after the time limit. */
  ready(timeoutMs = CONNECT_MS): Promise<void> {
    return new Promise((resolve, reject) => {
      const finish = (settle: () => void) => {
        clearTimeout(timer)
        stop()
        settle()
      }
      const look = () => {
        const state = this.#state
        if (state.kind === 'open') finish(resolve)
        else if (state.kind === 'refused')
          finish(() => reject(new AppError(state.detail.code, state.detail.message, state.detail.remedy)))
      }
      const timer = setTimeout(
        () => finish(() => reject(new AppError('timeout', 'The host does not answer.', 'Check that it is running.'))),
        timeoutMs,
      )
      const stop = this.onState(look)
      look()
    })
  }

  async call(path: readonly string[], input: unknown, options: ClientOptions<CallOptions>): Promise<unknown> {
    const name = path.join('.')
    const timeoutMs = options.context.timeoutMs ?? LONG_CALLS[name] ?? CALL_MS
    if (options.signal?.aborted === true) throw new AppError('cancelled', 'The call was cancelled.')
    await this.ready(Math.min(timeoutMs, CONNECT_MS))
    const inner = this.#inner
    if (inner === null) throw lost()
    const controller = new AbortController()
    const forward = () => controller.abort()
    options.signal?.addEventListener('abort', forward, { once: true })
    let late = false
    const timer = setTimeout(() => {
      late = true
      controller.abort()
    }, timeoutMs)
    const failure = (error: unknown): AppError => {
      if (late)
        return new AppError('timeout', `No answer to ${name} within ${timeoutMs / 1000} s.`, 'Try again.', {
          cause: error,
        })
      if (options.signal?.aborted === true) return new AppError('cancelled', 'The call was cancelled.')
      return fromWire(error, this.#inner === inner)
    }
    try {
      const answer = await inner.call(path, input, { ...options, signal: controller.signal })
      if (isStream(answer)) return guarded(answer, failure, () => options.signal?.removeEventListener('abort', forward))
      options.signal?.removeEventListener('abort', forward)
      return answer
    } catch (error) {
      options.signal?.removeEventListener('abort', forward)
      throw failure(error)
    } finally {
      clearTimeout(timer)
    }
  }

  #run(): Promise<void> {
    const { open, firstPauseMs = 250, longestPauseMs = 5000 } = this.#options
    return keepTrying({
      signal: this.#end.signal,
      firstMs: firstPauseMs,
      longestMs: longestPauseMs,
      jitter: 0.25,
      attempt: async (up) => {
        const limit = new AbortController()
        const timer = setTimeout(() => limit.abort(), CONNECT_MS)
        const link = await open(limit.signal).finally(() => clearTimeout(timer))
        up()
        await this.#use(link)
      },
      onDown: (_, attempts) => this.#set({ kind: 'lost', attempts }),
      onRefused: ({ detail }) => this.#set({ kind: 'refused', detail }),
    })
  }

  /** Serves calls over one link until it closes. */
  async #use(link: Link): Promise<void> {
    this.#link = link
    // Objects are posted as they are; an empty transfer list is what tells the library so.
    this.#inner = new RPCLink<CallOptions>({ port: asPort(link), experimental_transfer: () => [] })
    const gone = new Promise<void>((resolve) => {
      link.onClose(resolve)
    })
    this.#set({ kind: 'open' })
    if (this.#end.signal.aborted) link.close()
    await gone
    this.#inner = null
    this.#link = null
  }

  #set(state: ConnectionState): void {
    this.#state = state
    for (const listener of this.#listeners) listener()
  }
}

/** An answer that never came because the line broke is not the host's fault. */
function fromWire(error: unknown, stillConnected: boolean): AppError {
  const known = error instanceof AppError || error instanceof ORPCError
  return known || stillConnected ? asAppError(error) : lost()
}

function isStream(value: unknown): value is AsyncIterableIterator<unknown> {
  return typeof value === 'object' && value !== null && Symbol.asyncIterator in value && 'next' in value
}

/** The same stream, its failures as AppErrors. Not a generator: those cannot be ended while a step is awaited. */
function guarded(
  stream: AsyncIterableIterator<unknown>,
  failure: (error: unknown) => AppError,
  done: () => void,
): AsyncIterableIterator<unknown> {
  return {
    next: async () => {
      try {
        const step = await stream.next()
        if (step.done === true) done()
        return step
      } catch (error) {
        done()
        throw failure(error)
      }
    },
    return: async () => {
      done()
      await stream.return?.()
      return { done: true, value: undefined }
    },
    [Symbol.asyncIterator]() {
      return this
    },
  }
}
