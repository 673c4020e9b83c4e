/**
 * Threads that measure. The pool is small on purpose: an npm pool would start its own entry script from its own
 * package, which a bundled desktop application cannot hand over as a built chunk.
 */
import type { Worker } from 'node:worker_threads'
import { AppError } from '#shared/domain/errors.ts'
import type { MeasureInput } from '#shared/domain/measure-input.ts'
import type { Analyzer, Log, MeasureOutcome } from '#main/core/ports.ts'
import type { Picture, PictureJob, PictureKind, PictureRequest } from '#shared/measure/pictures.ts'
import type { AnalysisJob, AnalysisReply, Done, Work } from './messages.ts'

export interface PoolOptions {
  /** Threads at most; they start when first needed. */
  readonly size: number
  /** Starts `analysis/worker.ts` as a worker thread. */
  readonly createWorker: () => Worker
  readonly log: Log
  /** One measurement that takes longer than this is given up and its thread replaced, s; a batch gets √n times as long. */
  readonly timeoutS?: number
}

/** Jobs that wait inside a thread, so that it never idles while its last answer is on its way. */
const DEPTH = 2
const TIMEOUT_S = 60
const START_TIMEOUT_S = 60
/** Threads that end one after another without a single answer, per place, until the pool gives up starting them. */
const MAX_DEATHS = 3

interface Job {
  readonly id: number
  readonly work: Work
  /** The samples' memory is handed over to the thread. */
  readonly move: boolean
  readonly resolve: (done: Done) => void
  readonly reject: (error: AppError) => void
  /** Removes the listener of the caller's signal. */
  release: () => void
}

interface Thread {
  readonly worker: Worker
  /** The first one is being computed, the others wait inside the thread. */
  readonly jobs: Job[]
  timer: NodeJS.Timeout | null
  /** Its code is loaded; until then its time does not count as that of a measurement. */
  ready: boolean
}

/** Starts no thread before the first job. Closing rejects what is left with `cancelled`. */
export function createPool(options: PoolOptions): Analyzer {
  return new Pool(options)
}

class Pool implements Analyzer {
  readonly concurrency: number
  readonly #options: PoolOptions
  readonly #threads = new Set<Thread>()
  readonly #queue: Job[] = []
  #nextId = 1
  #deaths = 0
  #closed = false

  constructor(options: PoolOptions) {
    this.#options = options
    this.concurrency = Math.max(1, Math.floor(options.size))
  }

  measure: Analyzer['measure'] = async (input, signal) => {
    const [outcome] = await this.#batch([input], false, signal)
    if (outcome === undefined) throw noAnswer()
    if ('error' in outcome) throw new AppError(outcome.error.code, outcome.error.message, outcome.error.remedy)
    return outcome.result
  }

  measureMany: Analyzer['measureMany'] = (inputs, signal) => this.#batch(inputs, true, signal)

  light: Analyzer['light'] = async (input, signal) => {
    const done = await this.#submit({ light: input }, false, signal)
    if ('light' in done) return done.light
    throw problemOf(done)
  }

  causes: Analyzer['causes'] = async (input, signal) => {
    const done = await this.#submit({ explain: input }, false, signal)
    if ('causes' in done) return done.causes
    throw problemOf(done)
  }

  picture: Analyzer['picture'] = async <K extends PictureKind>(
    kind: K,
    request: PictureRequest<K>,
    signal?: AbortSignal,
  ) => {
    const done = await this.#submit({ picture: { kind, request } as PictureJob }, false, signal)
    if ('picture' in done) return done.picture as Picture<K>
    throw problemOf(done)
  }

  async #batch(
    inputs: readonly MeasureInput[],
    move: boolean,
    signal?: AbortSignal,
  ): Promise<readonly MeasureOutcome[]> {
    if (inputs.length === 0 && !this.#closed && signal?.aborted !== true) return []
    const done = await this.#submit({ inputs }, move, signal)
    if (!('outcomes' in done)) throw noAnswer()
    return done.outcomes
  }

  #submit(work: Work, move: boolean, signal?: AbortSignal): Promise<Done> {
    if (this.#closed) return Promise.reject(new AppError('cancelled', 'The analysis was closed.'))
    if (signal?.aborted === true) return Promise.reject(cancelled())
    return new Promise((resolve, reject) => {
      const job: Job = { id: this.#nextId++, work, move, resolve, reject, release: () => undefined }
      if (signal !== undefined) {
        const abort = (): void => {
          const waiting = this.#queue.indexOf(job)
          if (waiting >= 0) this.#queue.splice(waiting, 1)
          // A job inside a thread is left to end there; nobody waits for it any more.
          reject(cancelled())
        }
        signal.addEventListener('abort', abort, { once: true })
        job.release = () => {
          signal.removeEventListener('abort', abort)
        }
      }
      this.#queue.push(job)
      this.#feed()
    })
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
    let best: Thread | null = null
    for (const thread of this.#threads) if (best === null || thread.jobs.length < best.jobs.length) best = thread
    if (best !== null && best.jobs.length === 0) return best
    if (this.#threads.size < this.concurrency) {
      if (this.#deaths >= MAX_DEATHS * this.concurrency) {
        this.#failQueue(new AppError('worker-died', 'The analysis threads keep ending.', 'Start the program again.'))
        return null
      }
      return this.#start()
    }
    return best !== null && best.jobs.length < DEPTH ? best : null
  }

  #start(): Thread {
    const worker = this.#options.createWorker()
    const thread: Thread = { worker, jobs: [], timer: null, ready: false }
    let problem = ''
    worker.on('message', (reply: AnalysisReply) => {
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
    return thread
  }

  #give(thread: Thread, job: Job): void {
    const transfer = new Set<ArrayBuffer>()
    const work =
      job.move && 'inputs' in job.work ? { inputs: job.work.inputs.map((input) => movable(input, transfer)) } : job.work
    const message: AnalysisJob = { id: job.id, work }
    try {
      thread.worker.postMessage(message, [...transfer])
    } catch (error) {
      job.release()
      job.reject(new AppError('invalid-input', `The analysis cannot take this: ${String(error)}`))
      return
    }
    thread.jobs.push(job)
    if (thread.jobs.length === 1) this.#startTimer(thread)
  }

  #startTimer(thread: Thread): void {
    if (thread.timer !== null) clearTimeout(thread.timer)
    thread.timer = null
    const [job] = thread.jobs
    if (job === undefined) return
    const seconds = thread.ready
      ? (this.#options.timeoutS ?? TIMEOUT_S) *
        ('inputs' in job.work ? Math.max(1, Math.sqrt(job.work.inputs.length)) : 1)
      : START_TIMEOUT_S
    thread.timer = setTimeout(() => {
      thread.timer = null
      job.release()
      job.reject(
        new AppError('timeout', `A measurement took longer than ${seconds.toFixed(0)} s.`, 'Use a shorter record.'),
      )
      this.#options.log.error('An analysis thread was stopped: it did not answer in time.', { seconds })
      // Given up at once: until a stopped thread is gone it would still take jobs and lose them.
      this.#ended(thread, 'it was stopped')
    }, seconds * 1000)
  }

  #answered(thread: Thread, reply: AnalysisReply): void {
    if (!this.#threads.has(thread)) return
    if ('ready' in reply) {
      thread.ready = true
      this.#startTimer(thread)
      return
    }
    const job = thread.jobs.shift()
    this.#deaths = 0
    this.#startTimer(thread)
    if (job !== undefined) {
      job.release()
      if (job.id === reply.id) job.resolve(reply.done)
      else job.reject(new AppError('internal', 'An analysis thread answered out of order.'))
    }
    this.#feed()
  }

  #ended(thread: Thread, problem: string): void {
    if (!this.#threads.delete(thread)) return
    void thread.worker.terminate()
    if (thread.timer !== null) clearTimeout(thread.timer)
    if (this.#closed) {
      for (const job of thread.jobs) fail(job, cancelled())
      return
    }
    this.#deaths += 1
    this.#options.log.error('An analysis thread ended unexpectedly.', { problem, jobs: thread.jobs.length })
    for (const job of thread.jobs)
      fail(
        job,
        new AppError('worker-died', `The thread that measured this capture ended (${problem}).`, 'Measure it again.'),
      )
    this.#feed()
  }

  #failQueue(error: AppError): void {
    for (const job of this.#queue.splice(0)) fail(job, error)
  }

  async close(): Promise<void> {
    this.#closed = true
    this.#failQueue(cancelled())
    await Promise.all([...this.#threads].map((thread) => thread.worker.terminate()))
  }
}

function fail(job: Job, error: AppError): void {
  job.release()
  job.reject(error)
}

function problemOf(done: Done): AppError {
  return 'error' in done ? new AppError(done.error.code, done.error.message, done.error.remedy) : noAnswer()
}

function noAnswer(): AppError {
  return new AppError('internal', 'The analysis gave no answer.')
}

function cancelled(): AppError {
  return new AppError('cancelled', 'The measurement was cancelled.')
}

/** The samples as memory of their own that can be handed over; views into larger memory are copied first. */
function movable(input: MeasureInput, transfer: Set<ArrayBuffer>): MeasureInput {
  const { samples } = input.trace
  const own = samples.byteLength === samples.buffer.byteLength && !transfer.has(samples.buffer as ArrayBuffer)
  const moved = own ? samples : samples.slice()
  transfer.add(moved.buffer as ArrayBuffer)
  return own ? input : { ...input, trace: { ...input.trace, samples: moved } }
}
