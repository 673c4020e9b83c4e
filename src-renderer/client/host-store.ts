/**
 * The interface's picture of the host: one external store fed by `system.watch`. The first event is a snapshot, every
 * later one replaces it; when the stream ends the store says so and attaches again, so a restarted host is picked up.
 */
import type { HostEvent, HostState, LogEntry } from '#shared/domain/views.ts'
import type { ErrorDetail } from '#shared/domain/errors.ts'
import { keepTrying } from './keep-trying.ts'

/** The only part of the client the store calls; the rest is handed on untouched. */
export interface WatchableClient {
  readonly system: {
    watch(input: undefined, options: { signal: AbortSignal }): Promise<AsyncIterable<HostEvent>>
    log(input: { afterId?: number; limit: number }, options: { signal: AbortSignal }): Promise<LogEntry[]>
  }
}

export interface HostSnapshot<C> {
  /** `refused`: this page's address is not valid for the host; trying again is useless. */
  readonly link: 'connecting' | 'open' | 'lost' | 'refused'
  /** Failed attempts since the link was last open. */
  readonly attempts: number
  readonly problem: ErrorDetail | null
  /** Present while the link is open. */
  readonly client: C | null
  /** Newest state; kept on screen, marked stale, while the link is lost. */
  readonly state: HostState | null
  /** `Date.now()` at which `state` arrived. */
  readonly stateAt: number
  /** Newest entries, oldest first, at most `LOG_LIMIT`. */
  readonly log: readonly LogEntry[]
}

export const LOG_LIMIT = 300
const FIRST_WAIT_MS = 500
const LONGEST_WAIT_MS = 5000

export interface HostStoreOptions<C> {
  readonly connect: () => Promise<C>
  readonly onEvent?: (event: HostEvent) => void
  /** Called each time a stream is open, before its first event is handled. */
  readonly onOpen?: () => void
  /** Reuses the unchanged parts of the last state, so that only what changed is drawn again. */
  readonly share?: (previous: HostState | null, next: HostState) => HostState
  /** When listeners hear of changes: at once, or once for all that change until it runs what it was given. */
  readonly schedule?: (run: () => void) => void
  readonly now?: () => number
  readonly sleep?: (ms: number, signal: AbortSignal) => Promise<void>
}

/** Adds an entry in id order, drops repeats, keeps the newest `LOG_LIMIT`. */
export function appendLog(log: readonly LogEntry[], entries: readonly LogEntry[]): readonly LogEntry[] {
  const known = new Set(log.map((entry) => entry.id))
  const fresh = entries.filter((entry) => !known.has(entry.id))
  if (fresh.length === 0) return log
  return [...log, ...fresh].sort((a, b) => a.id - b.id).slice(-LOG_LIMIT)
}

export class HostStore<C extends WatchableClient> {
  readonly #options: HostStoreOptions<C>
  readonly #listeners = new Set<() => void>()
  #snapshot: HostSnapshot<C> = {
    link: 'connecting',
    attempts: 0,
    problem: null,
    client: null,
    state: null,
    stateAt: 0,
    log: [],
  }
  #abort: AbortController | null = null
  #told = true

  constructor(options: HostStoreOptions<C>) {
    this.#options = options
  }

  readonly subscribe = (listener: () => void): (() => void) => {
    this.#listeners.add(listener)
    return () => this.#listeners.delete(listener)
  }

  readonly snapshot = (): HostSnapshot<C> => this.#snapshot

  /** Attaches and keeps attached until `stop`. */
  start(): void {
    if (this.#abort !== null) return
    this.#abort = new AbortController()
    void this.#run(this.#abort.signal)
  }

  stop(): void {
    this.#abort?.abort()
    this.#abort = null
  }

  /** Takes a state that a call returned, ahead of the event that announces it. */
  readonly accept = (state: HostState): void => {
    const shared = this.#options.share?.(this.#snapshot.state, state) ?? state
    this.#set({ state: shared, stateAt: this.#now() })
  }

  #now(): number {
    return (this.#options.now ?? Date.now)()
  }

  #set(change: Partial<HostSnapshot<C>>): void {
    this.#snapshot = { ...this.#snapshot, ...change }
    if (!this.#told) return
    this.#told = false
    const tell = () => {
      this.#told = true
      for (const listener of this.#listeners) listener()
    }
    if (this.#options.schedule === undefined) tell()
    else this.#options.schedule(tell)
  }

  #run(signal: AbortSignal): Promise<void> {
    const { sleep } = this.#options
    return keepTrying({
      signal,
      firstMs: FIRST_WAIT_MS,
      longestMs: LONGEST_WAIT_MS,
      ...(sleep === undefined ? {} : { sleep }),
      attempt: (up) => this.#attend(signal, up),
      onDown: ({ detail }, attempts) => this.#set({ link: 'lost', client: null, attempts, problem: detail }),
      onRefused: ({ detail }) => this.#set({ link: 'refused', client: null, problem: detail }),
    })
  }

  /** One attachment from connect to the end of its stream. */
  async #attend(outer: AbortSignal, up: () => void): Promise<void> {
    const attachment = new AbortController()
    const end = () => attachment.abort()
    outer.addEventListener('abort', end)
    const { signal } = attachment
    try {
      const client = await this.#options.connect()
      const events = await client.system.watch(undefined, { signal })
      const log = await client.system.log({ limit: LOG_LIMIT }, { signal })
      up()
      this.#options.onOpen?.()
      this.#set({ link: 'open', attempts: 0, problem: null, client, log: appendLog([], log) })
      for await (const event of events) {
        if (signal.aborted) return
        this.#handle(event)
      }
    } finally {
      outer.removeEventListener('abort', end)
      attachment.abort()
    }
  }

  #handle(event: HostEvent): void {
    if (event.kind === 'state') this.accept(event.state)
    if (event.kind === 'log') this.#set({ log: appendLog(this.#snapshot.log, [event.entry]) })
    this.#options.onEvent?.(event)
  }
}
