/**
 * Calls to threads of this program: numbered, each settled exactly once, also when its thread dies. Own code, because an
 * npm pool would start its entry script from its own package, which a bundled desktop application cannot hand over as a
 * built chunk.
 */
import type { Worker } from 'node:worker_threads'
import { AppError } from '#shared/domain/errors.ts'
import type { Log } from '#main/core/ports.ts'
import type { Calls, CallMessage, ReplyMessage } from './messages.ts'

export interface ThreadsOptions<C extends Calls> {
  /** Starts one thread, which serves `C`. Threads start when first needed. */
  readonly createWorker: () => Worker
  /** Threads at most. */
  readonly size: number
  /** Calls inside a thread at most; the others wait here, where they can still be cancelled. */
  readonly depth: number
  readonly log: Log
  readonly words: ThreadWords
  /** First call of a thread that replaces one that died. */
  readonly again?: () => Call<C>
  /** A call that takes longer is logged, ms. */
  readonly slowMs?: number
}

interface ThreadWords {
  /** The thread, as it begins a sentence. */
  readonly thread: string
  readonly lost: (problem: string, label: string) => AppError
  readonly cancelled: () => AppError
  readonly closed: () => AppError
  readonly keepsEnding: () => AppError
}

/** One call by name, with what its errors and the log call it. */
export type Call<C extends Calls> = {
  readonly [N in keyof C & string]: { readonly name: N; readonly args: Parameters<C[N]>; readonly label: string }
}[keyof C & string]

export interface CallOptions {
  /** Memory that moves to the thread; the caller's arrays over it are empty once the call is given. */
  readonly transfer?: readonly ArrayBuffer[]
  readonly signal?: AbortSignal | undefined
  /** A call that takes longer is given up and its thread replaced; the thread's start does not count. */
  readonly limit?: Limit
}

export interface Limit {
  readonly seconds: number
  readonly error: (seconds: number) => AppError
}

/** Longest time a thread may take to load its code where its first call has a time limit, s. */
const START_TIMEOUT_S = 60
/** Threads that end one after another without a single answer, per place, until no more are started. */
const MAX_DEATHS = 3
/** A thread that does not leave by itself within this time is ended. */
const LEAVE_MS = 3000

interface Job {
  readonly id: number
  readonly name: string
  readonly args: readonly unknown[]
  readonly label: string
  readonly transfer: readonly ArrayBuffer[]
  readonly limit: Limit | undefined
  readonly resolve: (value: unknown) => void
  readonly reject: (error: AppError) => void
}

interface Thread {
  readonly worker: Worker
  /** The first one is being answered, the others wait inside the thread. */
  readonly jobs: Job[]
  timer: NodeJS.Timeout | null
  ready: boolean
}

export class Threads<C extends Calls> {
  readonly #options: ThreadsOptions<C>
  readonly #threads = new Set<Thread>()
  readonly #queue: Job[] = []
  #nextId = 1
  #deaths = 0
  #closed = false

  constructor(options: ThreadsOptions<C>) {
    this.#options = options
  }

  /** Rejects with the words' errors, with `invalid-input` for what cannot be copied, and with the call's own. */
  call<K extends keyof C & string>(
    name: K,
    args: Parameters<C[K]>,
    label: string,
    options: CallOptions = {},
  ): Promise<ReturnType<C[K]>> {
    const { words } = this.#options
    const { signal } = options
    if (this.#closed) return Promise.reject(words.closed())
    if (signal?.aborted === true) return Promise.reject(words.cancelled())
    return new Promise((resolve, reject) => {
      const abort = (): void => {
        const waiting = this.#queue.indexOf(job)
        if (waiting >= 0) this.#queue.splice(waiting, 1)
        // A job inside a thread is left to end there; nobody waits for it any more.
        job.reject(words.cancelled())
      }
      const release = (): void => signal?.removeEventListener('abort', abort)
      const job: Job = {
        ...this.#numbered({ name, args, label }, options),
        resolve: (value) => {
          release()
          resolve(value as ReturnType<C[K]>)
        },
        reject: (error) => {
          release()
          reject(error)
        },
      }
      signal?.addEventListener('abort', abort, { once: true })
      this.#queue.push(job)
      this.#feed()
    })
  }

  #numbered(
    { name, args, label }: Pick<Job, 'name' | 'args' | 'label'>,
    options: CallOptions,
  ): Omit<Job, 'resolve' | 'reject'> {
    const { transfer = [], limit } = options
    return { id: this.#nextId++, name, args, label, transfer, limit }
  }

  #feed(): void {
    while (this.#queue.length > 0) {
      const thread = this.#freest()
      if (thread === null) return
      const job = this.#queue.shift()
      if (job !== undefined) this.#give(thread, job)
    }
  }

  /** The thread with the fewest jobs; a new one rather than a second job, while there is room. */
  #freest(): Thread | null {
    const { size, depth, words } = this.#options
    let best: Thread | null = null
    for (const thread of this.#threads) if (best === null || thread.jobs.length < best.jobs.length) best = thread
    if (best !== null && best.jobs.length === 0) return best
    if (this.#threads.size < size) {
      if (this.#deaths < MAX_DEATHS * size) return this.#start()
      this.#failQueue(words.keepsEnding)
      return null
    }
    return best !== null && best.jobs.length < depth ? best : null
  }

  #start(): Thread {
    const { createWorker, again, log } = this.#options
    const worker = createWorker()
    const thread: Thread = { worker, jobs: [], timer: null, ready: false }
    let problem = ''
    worker.on('message', (reply: ReplyMessage) => {
      this.#answered(thread, reply)
    })
    worker.on('messageerror', (error) => {
      this.#ended(thread, error.message)
    })
    worker.on('error', (error) => {
      problem = error instanceof Error ? error.message : String(error)
    })
    worker.on('exit', (code) => {
      this.#ended(thread, problem === '' ? `exit code ${code}` : problem)
    })
    this.#threads.add(thread)
    if (again !== undefined && this.#deaths > 0) {
      const call = again()
      this.#give(thread, {
        ...this.#numbered(call, {}),
        resolve: () => undefined,
        // What is asked next reports it.
        reject: (error) => log.error(`${call.label} failed.`, { problem: error.message }),
      })
    }
    return thread
  }

  #give(thread: Thread, job: Job): void {
    const { id, name, args, transfer } = job
    const message: CallMessage = { id, name, args }
    try {
      thread.worker.postMessage(message, [...transfer])
    } catch (error) {
      // Something that cannot be copied, such as a function inside the argument.
      job.reject(
        new AppError('invalid-input', `${this.#options.words.thread} cannot take ${job.label}: ${String(error)}`),
      )
      return
    }
    thread.jobs.push(job)
    if (thread.jobs.length === 1) this.#startTimer(thread)
  }

  #startTimer(thread: Thread): void {
    if (thread.timer !== null) clearTimeout(thread.timer)
    thread.timer = null
    const [job] = thread.jobs
    if (job === undefined || job.limit === undefined) return
    const { log, words } = this.#options
    const { limit } = job
    const seconds = thread.ready ? limit.seconds : START_TIMEOUT_S
    thread.timer = setTimeout(() => {
      thread.timer = null
      job.reject(limit.error(seconds))
      log.error(`${words.thread} was stopped: it did not answer in time.`, { seconds })
      // Given up at once: until a stopped thread is gone it would still take jobs and lose them.
      this.#ended(thread, 'it was stopped')
    }, seconds * 1000)
  }

  #answered(thread: Thread, reply: ReplyMessage): void {
    if (!this.#threads.has(thread)) return
    if ('ready' in reply) {
      thread.ready = true
      this.#startTimer(thread)
      return
    }
    const { slowMs = Infinity, log } = this.#options
    const job = thread.jobs.shift()
    this.#deaths = 0
    this.#startTimer(thread)
    if (job !== undefined) {
      if (reply.ms > slowMs) log.warn('Slow request.', { request: job.label, ms: Math.round(reply.ms) })
      if (job.id !== reply.id)
        job.reject(new AppError('internal', `${this.#options.words.thread} answered out of order.`))
      else if ('error' in reply) job.reject(new AppError(reply.error.code, reply.error.message, reply.error.remedy))
      else job.resolve(reply.value)
    }
    this.#feed()
  }

  #ended(thread: Thread, problem: string): void {
    if (!this.#threads.delete(thread)) return
    const { log, words } = this.#options
    void thread.worker.terminate()
    if (thread.timer !== null) clearTimeout(thread.timer)
    if (!this.#closed) {
      this.#deaths += 1
      log.error(`${words.thread} ended unexpectedly.`, { problem, lost: thread.jobs.map(({ label }) => label) })
    }
    for (const job of thread.jobs) job.reject(this.#closed ? words.cancelled() : words.lost(problem, job.label))
    this.#feed()
  }

  #failQueue(error: () => AppError): void {
    for (const job of this.#queue.splice(0)) job.reject(error())
  }

  /** Ends every thread at once and cancels what they were asked. */
  async close(): Promise<void> {
    this.#closed = true
    this.#failQueue(this.#options.words.cancelled)
    await Promise.all([...this.#threads].map(({ worker }) => worker.terminate()))
  }

  /** Lets every thread answer what it was asked, close what it holds and leave. */
  async leave(): Promise<void> {
    this.#closed = true
    this.#failQueue(this.#options.words.closed)
    await Promise.all([...this.#threads].map(({ worker }) => left(worker)))
  }
}

/** Resolves once the thread is gone: of its own accord, or ended when it takes too long. */
function left(worker: Worker): Promise<void> {
  return new Promise((resolve) => {
    const late = setTimeout(() => void worker.terminate(), LEAVE_MS)
    worker.once('exit', () => {
      clearTimeout(late)
      resolve()
    })
    const message: CallMessage = { leave: true }
    worker.postMessage(message, [])
  })
}
