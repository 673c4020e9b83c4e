/** Following a job of the core from the command line. */
import type { JobProgress } from '#shared/domain/job.ts'
import { duration } from '#shared/domain/quantity-text.ts'
import type { CliCore, CliProcess } from './host.ts'
import type { Output } from './output.ts'

/** Starts a job, shows its progress, cancels it at an interrupt, and answers how it ended. */
export async function followJob(
  core: CliCore['core'],
  start: () => Promise<{ jobId: string }>,
  /** What it counts, such as `captures`. */
  noun: string,
  process: CliProcess,
  output: Output,
): Promise<JobProgress> {
  const { jobId } = await start()
  const current = (): JobProgress | undefined => core.system.state().jobs.find(({ id }) => id === jobId)
  const release = process.onInterrupt(() => {
    core.jobs.cancel({ jobId }).catch(() => undefined)
  })
  const over = new AbortController()
  const asked = { what: '' }
  /** Waits for Enter; where nobody can type, the job cannot be answered and ends. */
  const answer = async (what: string): Promise<void> => {
    output.note(`${what} Then press Enter.`)
    const line = process.typed == null ? null : await process.typed(over.signal)
    if (over.signal.aborted) return
    await (line === null ? core.jobs.cancel({ jobId }) : core.jobs.proceed({ jobId }))
  }
  const { ended, stop } = jobEnd(core, current, (job) => {
    if (job.asks !== asked.what) {
      asked.what = job.asks
      if (job.asks !== '') answer(job.asks).catch(() => undefined)
    }
    if (job.asks !== '') return
    output.progress(`${job.done} of ${job.total} ${noun}${job.leftS === null ? '' : `, ${duration(job.leftS)} left`}`, {
      [`${noun}_done`]: job.done,
      [`${noun}_total`]: job.total,
      left_s: job.leftS,
    })
  })
  try {
    return await ended
  } finally {
    over.abort()
    release()
    stop()
  }
}

function jobEnd(
  core: CliCore['core'],
  current: () => JobProgress | undefined,
  onProgress: (job: JobProgress) => void,
): { ended: Promise<JobProgress>; stop: () => void } {
  const done = withResolver<JobProgress>()
  const look = (): void => {
    const job = current()
    if (job === undefined) return
    if (job.state !== 'running') done.resolve(job)
    else if (job.total > 0) onProgress(job)
  }
  const stop = core.system.watch(look)
  look()
  return { ended: done.promise, stop }
}

function withResolver<T>(): { promise: Promise<T>; resolve: (value: T) => void } {
  let resolve: ((value: T) => void) | null = null
  const promise = new Promise<T>((settle) => {
    resolve = settle
  })
  return { promise, resolve: (value) => resolve?.(value) }
}
