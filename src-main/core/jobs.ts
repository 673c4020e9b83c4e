import { AppError, toErrorDetail } from '#shared/domain/errors.ts'
import type { JobKind, JobProgress } from '#shared/domain/job.ts'
import type { JobOutcome, JobResults, OutcomeOf } from '#shared/domain/job-outcome.ts'
import type { Hub } from './hub.ts'
import type { Clock } from './ports.ts'
import { leftAtRate } from './time-left.ts'

/** What the work of a job says of itself. */
export interface Job<K extends JobKind> {
  readonly id: string
  readonly signal: AbortSignal
  /** Pieces of work dealt with; a total of 0 is not known yet. */
  progress(done: number, total: number): void
  /** Changes what has come of it so far. */
  result(change: Partial<JobResults[K]>): void
  /** Waits until a person says that this is done; rejects with `cancelled` at the end of the job. */
  ask(what: string): Promise<void>
}

/** A job whose work is driven from elsewhere, which says how it ended. */
interface OpenJob<K extends JobKind> extends Job<K> {
  end(problem?: string): void
  fail(error: unknown): void
}

/** Long pieces of work with progress, time left, cancel and a result: one mechanism for every kind. */
export interface Jobs {
  /** Starts work and answers with the job's id; the work resolves to what is to be said about it, '' when all went well. */
  start<K extends JobKind>(
    kind: K,
    label: string,
    result: JobResults[K],
    work: (job: Job<K>) => Promise<string>,
  ): string
  open<K extends JobKind>(kind: K, label: string, result: JobResults[K]): OpenJob<K>
  running(kind: JobKind): number
  /** `not-found` when it is not running any more. */
  cancel(id: string): void
  /** What the job asked for is done; `conflict` where it asks for nothing. */
  proceed(id: string): void
  /** What came of a job, or has so far; `not-found` when it is forgotten. */
  outcome(id: string): JobOutcome
  /** Cancels what runs and waits for the work that was started here. */
  close(): Promise<void>
}

/** Announcements of one job per second at most this many, so that a fast job does not flood the interface. */
const REPORTS_PER_SECOND = 10
/** Older ones are forgotten; what they stored and the event log stay. */
const OUTCOMES_KEPT = 20

interface Running {
  readonly kind: JobKind
  readonly abort: AbortController
  /** Goes on; null while nothing is asked. */
  proceed: (() => void) | null
}

export function createJobs(hub: Hub, clock: Pick<Clock, 'now'>): Jobs {
  const running = new Map<string, Running>()
  const started = new Set<Promise<void>>()
  const outcomes = new Map<string, JobOutcome>()
  let count = 0

  function begin<K extends JobKind>(kind: K, label: string, first: JobResults[K]): OpenJob<K> & { id: string } {
    count += 1
    const id = `${kind}-${count}`
    const abort = new AbortController()
    const startedAt = clock.now()
    let progress: JobProgress = {
      id,
      kind,
      label,
      done: 0,
      total: 0,
      state: 'running',
      problem: '',
      leftS: null,
      asks: '',
    }
    const own: Running = { kind, abort, proceed: null }
    let outcome: OutcomeOf<K> = { kind, state: 'running', result: first, failure: null }
    let reportedAt = 0
    const keep = (change: Partial<OutcomeOf<K>>): void => {
      outcome = { ...outcome, ...change }
      outcomes.set(id, outcome as JobOutcome)
    }
    const finish = (change: Pick<OutcomeOf<K>, 'state' | 'failure'>, problem: string): void => {
      if (!running.delete(id)) return
      keep(change)
      progress = { ...progress, state: change.state, problem, leftS: null, asks: '' }
      hub.job(progress)
    }
    running.set(id, own)
    keep({})
    const [oldest] = [...outcomes.keys()].filter((known) => !running.has(known))
    if (outcomes.size > OUTCOMES_KEPT && oldest !== undefined) outcomes.delete(oldest)
    hub.job(progress)
    return {
      id,
      signal: abort.signal,
      progress(done, total) {
        progress = { ...progress, done, total, leftS: leftAtRate(clock.now() - startedAt, done, total) }
        const now = performance.now()
        if (now - reportedAt < 1000 / REPORTS_PER_SECOND && (done < total || total === 0)) return
        reportedAt = now
        hub.job(progress)
      },
      ask: (what) =>
        new Promise((resolve, reject) => {
          const settle = (): void => {
            own.proceed = null
            abort.signal.removeEventListener('abort', onAbort)
            progress = { ...progress, asks: '' }
            hub.job(progress)
          }
          const onAbort = (): void => {
            settle()
            reject(new AppError('cancelled', 'The work was cancelled.'))
          }
          if (abort.signal.aborted) return onAbort()
          abort.signal.addEventListener('abort', onAbort, { once: true })
          own.proceed = () => {
            settle()
            resolve()
          }
          progress = { ...progress, asks: what, leftS: null }
          hub.job(progress)
        }),
      result: (change) => keep({ result: { ...outcome.result, ...change } }),
      end: (problem = '') => finish({ state: 'finished', failure: null }, problem),
      fail(error) {
        const failure = toErrorDetail(error)
        const cancelled = failure.code === 'cancelled' || abort.signal.aborted
        finish({ state: cancelled ? 'cancelled' : 'failed', failure }, failure.message)
      },
    }
  }

  return {
    start(kind, label, result, work) {
      const job = begin(kind, label, result)
      const ended = work(job)
        .then(
          (problem) => job.end(problem),
          (error: unknown) => job.fail(error),
        )
        .finally(() => started.delete(ended))
      started.add(ended)
      return job.id
    },
    open: begin,
    running: (kind) => [...running.values()].filter((job) => job.kind === kind).length,
    cancel(id) {
      const job = running.get(id)
      if (!job) throw new AppError('not-found', 'This job is no longer running.')
      job.abort.abort()
    },
    proceed(id) {
      const job = running.get(id)
      if (!job) throw new AppError('not-found', 'This job is not running any more.')
      if (job.proceed === null) throw new AppError('conflict', 'This job does not wait for anything.')
      job.proceed()
    },
    outcome(id) {
      const outcome = outcomes.get(id)
      if (!outcome) throw new AppError('not-found', 'This job is no longer known.', 'What it stored is in the archive.')
      return outcome
    },
    async close() {
      for (const job of running.values()) job.abort.abort()
      await Promise.all(started)
    },
  }
}
