import { AppError, toErrorDetail } from '#shared/domain/errors.ts'
import type { JobProgress } from '#shared/domain/views.ts'
import type { Hub } from './hub.ts'

/** Long pieces of work with progress and cancel. */
export interface Jobs {
  start(
    kind: JobProgress['kind'],
    label: string,
    /** Resolves to what is to be said about the finished work; empty when all went well. */
    work: (report: (done: number, total: number, leftS: number | null) => void, signal: AbortSignal) => Promise<string>,
  ): string
  cancel(id: string): void
  close(): Promise<void>
}

/** Announcements of one job per second at most this many, so that a fast job does not flood the interface. */
const REPORTS_PER_SECOND = 10

export function createJobs(hub: Hub): Jobs {
  const running = new Map<string, { abort: AbortController; ended: Promise<void> }>()
  let count = 0
  return {
    start(kind, label, work) {
      count += 1
      const id = `${kind}-${count}`
      const abort = new AbortController()
      let progress: JobProgress = { id, kind, label, done: 0, total: 0, state: 'running', problem: '', leftS: null }
      let reportedAt = 0
      const report = (done: number, total: number, leftS: number | null): void => {
        progress = { ...progress, done, total, leftS }
        const now = performance.now()
        if (now - reportedAt < 1000 / REPORTS_PER_SECOND && done < total) return
        reportedAt = now
        hub.job(progress)
      }
      const end = (state: JobProgress['state'], problem: string): void => {
        running.delete(id)
        progress = { ...progress, state, problem, leftS: null }
        hub.job(progress)
      }
      hub.job(progress)
      const ended = work(report, abort.signal).then(
        (problem) => end('finished', problem),
        (error: unknown) => {
          const detail = toErrorDetail(error)
          end(detail.code === 'cancelled' || abort.signal.aborted ? 'cancelled' : 'failed', detail.message)
        },
      )
      if (progress.state === 'running') running.set(id, { abort, ended })
      return id
    },
    cancel(id) {
      const job = running.get(id)
      if (!job) throw new AppError('not-found', 'This job is not running any more.')
      job.abort.abort()
    },
    async close() {
      for (const job of running.values()) job.abort.abort()
      await Promise.all([...running.values()].map((job) => job.ended))
    },
  }
}
