/** Requests to the store's thread: numbered, each settled exactly once, also when the thread dies. */
import type { Worker } from 'node:worker_threads'
import { AppError } from '#shared/domain/errors.ts'
import type { Log } from '#main/core/ports.ts'
import type { StoreReply, StoreRequest } from './messages.ts'

const SLOW_MS = 100
/** A thread that does not leave by itself within this time is ended. */
const LEAVE_MS = 3000
/** Deaths without a single answer in between after which no new thread is started. */
const MAX_DEATHS = 3

type Unnumbered<T> = T extends { readonly id: number } ? Omit<T, 'id'> : never
export type Request = Unnumbered<StoreRequest>

interface Waiting {
  readonly label: string
  readonly resolve: (value: unknown) => void
  readonly reject: (error: AppError) => void
}

export interface LinkOptions {
  readonly createWorker: () => Worker
  readonly log: Log
  /** First request of a replacement thread. */
  readonly reopen: () => Request
}

export class Link {
  readonly #options: LinkOptions
  readonly #waiting = new Map<number, Waiting>()
  #worker: Worker | null
  #nextId = 1
  #deaths = 0
  #ending = false
  #idle: (() => void)[] = []

  constructor(options: LinkOptions) {
    this.#options = options
    this.#worker = this.#start()
  }

  #start(): Worker {
    const worker = this.#options.createWorker()
    let problem = ''
    worker.on('message', (reply: StoreReply) => {
      this.#settle(reply)
    })
    worker.on('messageerror', (error) => {
      problem = error.message
      void worker.terminate()
    })
    worker.on('error', (error) => {
      problem = error instanceof Error ? error.message : String(error)
    })
    worker.on('exit', (code) => {
      if (worker === this.#worker) this.#died(problem === '' ? `exit code ${code}` : problem)
    })
    return worker
  }

  #died(problem: string): void {
    this.#worker = null
    const lost = [...this.#waiting.values()]
    this.#waiting.clear()
    for (const { label, reject } of lost)
      reject(
        new AppError(
          'worker-died',
          `The archive's thread ended (${problem}) before ${label} was answered; it may or may not be stored.`,
          'Look at the archive before repeating it. Everything acknowledged earlier is safe.',
        ),
      )
    if (!this.#ending) {
      this.#deaths += 1
      this.#options.log.error('The archive thread ended unexpectedly.', { problem, lost: lost.map((w) => w.label) })
      if (this.#deaths <= MAX_DEATHS) {
        this.#worker = this.#start()
        // Sent first, so that every later request finds the archive open; a failure is what those requests then report.
        this.send(this.#options.reopen(), 'opening the archive again').catch((error: unknown) => {
          this.#options.log.error('The archive could not be opened again.', { problem: String(error) })
        })
      }
    }
    this.#wakeIdle()
  }

  #settle(reply: StoreReply): void {
    const waiting = this.#waiting.get(reply.id)
    if (waiting === undefined) return
    this.#waiting.delete(reply.id)
    if (reply.ms > SLOW_MS)
      this.#options.log.warn('Slow archive request.', { request: waiting.label, ms: Math.round(reply.ms) })
    if ('error' in reply) waiting.reject(new AppError(reply.error.code, reply.error.message, reply.error.remedy))
    else {
      this.#deaths = 0
      waiting.resolve(reply.value)
    }
    this.#wakeIdle()
  }

  #wakeIdle(): void {
    if (this.#waiting.size > 0) return
    const idle = this.#idle
    this.#idle = []
    for (const wake of idle) wake()
  }

  send(request: Request, label: string, transfer: readonly ArrayBuffer[] = []): Promise<unknown> {
    const worker = this.#worker
    if (worker === null)
      return Promise.reject(
        new AppError(
          'worker-died',
          this.#ending ? 'The archive is closed.' : "The archive's thread keeps ending; it is not restarted.",
          'Close the program and start it again. Everything acknowledged earlier is safe.',
        ),
      )
    const id = this.#nextId++
    return new Promise((resolve, reject) => {
      this.#waiting.set(id, { label, resolve, reject })
      try {
        worker.postMessage({ ...request, id }, [...transfer])
      } catch (error) {
        // Something that cannot be copied, such as a function inside the argument.
        this.#waiting.delete(id)
        reject(new AppError('invalid-input', `The archive cannot take this: ${String(error)}`))
      }
    })
  }

  /** Resolves when every request so far is answered. */
  drained(): Promise<void> {
    if (this.#waiting.size === 0) return Promise.resolve()
    return new Promise((resolve) => {
      this.#idle.push(resolve)
    })
  }

  /** Lets the thread leave; later requests are refused. */
  async end(): Promise<void> {
    this.#ending = true
    const worker = this.#worker
    this.#worker = null
    if (worker !== null) await leave(worker, { kind: 'leave', id: this.#nextId++ })
    this.#died('closed')
  }
}

/** Resolves once the thread is gone: of its own accord, or ended when it takes too long. */
function leave(worker: Worker, request: StoreRequest): Promise<void> {
  return new Promise((resolve) => {
    const late = setTimeout(() => void worker.terminate(), LEAVE_MS)
    worker.once('exit', () => {
      clearTimeout(late)
      resolve()
    })
    worker.postMessage(request, [])
  })
}
