import type { Clock, Log } from '#main/core/ports.ts'
import { AppError } from '#shared/domain/errors.ts'
import { CLEAR, NEXT_ERROR, programMessage } from '../protocol/commands.ts'
import { type InstrumentError, parseInstrumentError } from '../protocol/instrument-error.ts'
import { type ResponseLimits, ResponseParser, type UnitKind } from '../protocol/response-parser.ts'
import { answerSeconds } from '../protocol/timeouts.ts'
import type { ByteLink } from '../transport/link.ts'
import { cancelledError, isCode, lostError, protocolError, timeoutError } from './rig-errors.ts'
import type { RigTimings } from './timings.ts'
import { pause, throwIfCancelled } from './waiting.ts'

export type Units = readonly (string | Uint8Array)[]

export interface QueryOptions {
  readonly signal?: AbortSignal | undefined
  /** Time the instrument may take before it begins to answer, s. */
  readonly firstByteS?: number
  /** Longest time from first to last byte, s. */
  readonly transferLimitS?: number
  readonly limits?: ResponseLimits
}

interface Waiter {
  readonly parser: ResponseParser
  readonly settle: (result: Units | AppError) => void
  firstByteAt: number | null
  lastByteAt: number
}

const NO_BLOCK: ResponseLimits = { maxBlockBytes: 0 }
const RESYNC_ATTEMPTS = 3
/** An error queue that does not run empty within this many entries is not believed. */
const ERROR_QUEUE_LIMIT = 64
/** Why a session is lost when the far end never pauses. */
export const BABBLE = 'it sends without stopping'
/** First to last byte of an ordinary answer, s. */
const DEFAULT_ANSWER_LIMIT_S = 10

/**
 * One SCPI conversation over a link: question and answer strictly in turn, each against a parser that knows what must
 * come. After anything unexpected the conversation is out of step; the next question then first brings it back
 * (`resync`), and a rig that cannot be brought back counts as lost.
 */
export class ScpiSession {
  readonly #link: ByteLink
  readonly #clock: Clock
  readonly #log: Log
  readonly #timings: RigTimings
  readonly #lostListeners = new Set<(reason: string) => void>()
  readonly #removeListeners: (() => void)[]
  #turn: Promise<unknown> = Promise.resolve()
  #waiter: Waiter | null = null
  #lost: string | null = null
  #outOfStep = false
  #lastByteAt: number
  #usedAt: number
  #resyncs = 0
  #measuredBytesPerSecond: number | null = null

  constructor(link: ByteLink, deps: { clock: Clock; log: Log; timings: RigTimings }) {
    this.#link = link
    this.#clock = deps.clock
    this.#log = deps.log
    this.#timings = deps.timings
    this.#lastByteAt = this.#usedAt = deps.clock.now()
    this.#removeListeners = [
      link.onData((chunk) => this.#receive(chunk)),
      link.onClose((reason) => this.#lose(reason, false)),
    ]
  }

  /** Why the link is gone; null while it stands. */
  get lost(): string | null {
    return this.#lost
  }
  /** How often the conversation had to be brought back into step; instrument settings may have suffered. */
  get resyncs(): number {
    return this.#resyncs
  }
  /** When the session last exchanged anything, by the clock. */
  get usedAt(): number {
    return this.#usedAt
  }
  /** The link's nominal rate, or what the last large block measured when it has none. */
  get bytesPerSecond(): number | null {
    return this.#link.bytesPerSecond ?? this.#measuredBytesPerSecond
  }
  forgetMeasuredRate(): void {
    this.#measuredBytesPerSecond = null
  }

  onLost(listener: (reason: string) => void): () => void {
    this.#lostListeners.add(listener)
    return () => this.#lostListeners.delete(listener)
  }

  /** Sends program messages that have no answer. */
  async send(lines: readonly string[], signal?: AbortSignal): Promise<void> {
    await this.#inTurn(async () => {
      throwIfCancelled(signal)
      if (this.#outOfStep) await this.#resync(signal)
      await this.#write(programMessage(lines))
    })
  }

  /** Sends program messages of which the last one asks, and answers with its response units. */
  async query(lines: readonly string[], shape: readonly UnitKind[], options: QueryOptions = {}): Promise<Units> {
    return this.#inTurn(async () => {
      throwIfCancelled(options.signal)
      if (this.#outOfStep) await this.#resync(options.signal)
      return this.#exchange(lines, shape, options)
    })
  }

  async queryTexts(lines: readonly string[], count: number, options: QueryOptions = {}): Promise<string[]> {
    const units = await this.query(lines, Array.from<UnitKind>({ length: count }).fill('text'), options)
    return units.map(String)
  }

  /** Sends program messages, then reads the error queue until it is empty. */
  async sendChecked(lines: readonly string[], signal?: AbortSignal): Promise<InstrumentError[]> {
    return this.#inTurn(async () => {
      throwIfCancelled(signal)
      if (this.#outOfStep) await this.#resync(signal)
      return this.#drainErrors(lines, signal)
    })
  }

  /** Brings the conversation back into step; answers with what the instrument had to say. */
  async resync(signal?: AbortSignal): Promise<InstrumentError[]> {
    return this.#inTurn(async () => this.#resync(signal))
  }

  /** Resolves once no byte has come for the quiet time; a line that does not become quiet is given up. */
  async waitForQuiet(limitS: number, signal?: AbortSignal): Promise<void> {
    await this.#inTurn(async () => this.#waitForQuiet(limitS, signal))
  }

  /** False after anything unexpected, until the conversation is back in step. */
  get inStep(): boolean {
    return !this.#outOfStep
  }
  markOutOfStep(): void {
    this.#outOfStep = true
  }
  /** For the first contact only, when it is not known yet whether the far end could be brought into step. */
  assumeInStep(): void {
    this.#outOfStep = false
  }

  async close(): Promise<void> {
    this.#lose('it was closed', true)
    await this.#link.close()
  }

  #inTurn<T>(work: () => Promise<T>): Promise<T> {
    const turn = this.#turn.then(async () => {
      this.#throwIfLost()
      try {
        return await work()
      } finally {
        this.#usedAt = this.#clock.now()
      }
    })
    this.#turn = turn.catch(() => undefined)
    return turn
  }

  #throwIfLost(): void {
    if (this.#lost !== null) throw lostError(this.#lost)
  }

  #receive(chunk: Uint8Array): void {
    const now = this.#clock.now()
    this.#lastByteAt = now
    const waiter = this.#waiter
    if (waiter === null) {
      // Nobody asked for this: whatever is asked next must not be answered by it.
      this.#outOfStep = true
      return
    }
    waiter.firstByteAt ??= now
    waiter.lastByteAt = now
    const outcome = waiter.parser.push(chunk)
    if (outcome === null) return
    if (outcome.kind === 'malformed') {
      this.#outOfStep = true
      waiter.settle(protocolError(outcome.reason))
      return
    }
    if (outcome.consumed < chunk.length) this.#outOfStep = true
    this.#measureRate(waiter)
    waiter.settle(outcome.units)
  }

  #measureRate(waiter: Waiter): void {
    const { received } = waiter.parser.progress
    const seconds = waiter.lastByteAt - (waiter.firstByteAt ?? waiter.lastByteAt)
    if (received >= 4096 && seconds > 0.02) this.#measuredBytesPerSecond = received / seconds
  }

  #lose(reason: string, wanted: boolean): void {
    if (this.#lost !== null) return
    this.#lost = reason
    for (const remove of this.#removeListeners) remove()
    this.#waiter?.settle(lostError(reason))
    const listeners = [...this.#lostListeners]
    this.#lostListeners.clear()
    if (!wanted) for (const listener of listeners) listener(reason)
  }

  async #write(text: string): Promise<void> {
    try {
      await this.#link.write(Buffer.from(text, 'latin1'))
    } catch (error) {
      const reason = error instanceof Error ? error.message.replace(/\.$/, '') : String(error)
      this.#lose(reason, false)
      throw lostError(this.#lost ?? reason, error)
    }
  }

  async #exchange(lines: readonly string[], shape: readonly UnitKind[], options: QueryOptions): Promise<Units> {
    const { signal } = options
    this.#throwIfLost()
    const text = programMessage(lines)
    const rate = this.#link.bytesPerSecond
    const parser = new ResponseParser(shape, options.limits ?? NO_BLOCK)
    const timer = new AbortController()
    const onAbort = (): void => this.#waiter?.settle(cancelledError())
    const answer = new Promise<Units>((resolve, reject) => {
      const waiter: Waiter = {
        parser,
        firstByteAt: null,
        lastByteAt: this.#clock.now(),
        settle: (result) => {
          if (this.#waiter !== waiter) return
          this.#waiter = null
          if (result instanceof AppError) reject(result)
          else resolve(result)
        },
      }
      this.#waiter = waiter
      const firstByteS = answerSeconds(options.firstByteS ?? this.#timings.answerS, text.length, rate)
      void this.#watch(waiter, firstByteS, options.transferLimitS ?? DEFAULT_ANSWER_LIMIT_S, timer.signal)
    })
    signal?.addEventListener('abort', onAbort, { once: true })
    try {
      // A failing write loses the link, which settles the wait; a hanging one is ended by the watch.
      this.#write(text).catch(() => undefined)
      return await answer
    } catch (error) {
      this.#outOfStep = true
      throw error
    } finally {
      this.#waiter = null
      signal?.removeEventListener('abort', onAbort)
      timer.abort()
    }
  }

  /** Ends the waiter's wait when nothing comes, nothing more comes, or it takes longer than the limit. */
  async #watch(waiter: Waiter, firstByteS: number, transferLimitS: number, stop: AbortSignal): Promise<void> {
    const startedAt = this.#clock.now()
    let warned = false
    try {
      for (;;) {
        const now = this.#clock.now()
        const first = waiter.firstByteAt
        const limitAt = first === null ? Infinity : first + transferLimitS
        const silentAt = first === null ? startedAt + firstByteS : waiter.lastByteAt + this.#timings.silenceS
        const dueAt = Math.min(limitAt, silentAt)
        if (now < dueAt) {
          warned = false
          await pause(this.#clock, dueAt - now, stop)
        } else if (!warned && now < limitAt) {
          // After this process was held up, timers run before the bytes that wait in the system: let those in first.
          warned = true
          await pause(this.#clock, this.#timings.silenceS / 20, stop)
        } else {
          waiter.settle(overdue(waiter, now - (first ?? startedAt), now >= limitAt))
          return
        }
      }
    } catch (error) {
      if (!isCode(error, 'cancelled')) waiter.settle(timeoutError(`the clock failed (${String(error)})`))
    }
  }

  async #waitForQuiet(limitS: number, signal?: AbortSignal): Promise<void> {
    const startedAt = this.#clock.now()
    // At low rates single bytes lie far apart.
    const quietS = answerSeconds(this.#timings.quietS, 4, this.#link.bytesPerSecond)
    this.#lastByteAt = startedAt
    for (;;) {
      const now = this.#clock.now()
      const quietAt = this.#lastByteAt + quietS
      if (now >= quietAt) return
      if (now - startedAt > limitS) {
        this.#lose(BABBLE, false)
        throw lostError(BABBLE)
      }
      await pause(this.#clock, quietAt - now, signal)
      this.#throwIfLost()
    }
  }

  /** Sends the lines together with the first question for an error, and asks until the queue is empty. */
  async #drainErrors(lines: readonly string[], signal?: AbortSignal): Promise<InstrumentError[]> {
    const errors: InstrumentError[] = []
    let before = lines
    for (;;) {
      const [text] = await this.#exchange([...before, NEXT_ERROR], ['text'], { signal })
      before = []
      const error = parseInstrumentError(String(text))
      if (error === null) {
        this.#outOfStep = true
        throw protocolError(`"${String(text)}" is not an error-queue entry`)
      }
      if (error.code === 0) return errors
      errors.push(error)
      if (errors.length > ERROR_QUEUE_LIMIT) {
        this.#outOfStep = true
        throw protocolError('the error queue does not run empty')
      }
    }
  }

  async #resync(signal?: AbortSignal): Promise<InstrumentError[]> {
    this.#outOfStep = true
    this.#resyncs += 1
    let problem = 'no answer'
    for (let attempt = 1; attempt <= RESYNC_ATTEMPTS; attempt++) {
      try {
        // NL ends whatever command was half sent; then everything still under way is let pass.
        await this.#write('\n')
        await this.#waitForQuiet(this.#timings.drainS, signal)
        const errors = await this.#drainErrors([], signal)
        const left = await this.#drainErrors([CLEAR], signal)
        this.#outOfStep = false
        const reported = [...errors, ...left]
        this.#log.info('The rig is in sync again.', { attempt, reported })
        return reported
      } catch (error) {
        if (!isCode(error, 'rig-protocol', 'rig-timeout')) throw error
        problem = error.message
        this.#log.warn('The rig is still out of sync.', { attempt, problem })
      }
    }
    this.#lose('it no longer answers', false)
    throw lostError(`it no longer answers (${problem.replace(/\.$/, '')})`)
  }
}

/** Missing bytes are a loss; bytes that still come, only too slowly, are a matter of time. */
function overdue(waiter: Waiter, seconds: number, atLimit: boolean): AppError {
  const { received, announced } = waiter.parser.progress
  const span = `${seconds.toFixed(1)} s`
  if (waiter.firstByteAt === null) return timeoutError(`no answer within ${span}`)
  if (announced === 0) return timeoutError(`the answer broke off after ${span}`)
  const reason = `${received} of ${announced} bytes came within ${span}`
  return atLimit ? timeoutError(reason) : protocolError(reason)
}
