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
  const { ended, stop } = jobEnd(core, current, (job) =>
    output.progress(`${job.done} of ${job.total} ${noun}${job.leftS === null ? '' : `, ${duration(job.leftS)} left`}`, {
      [`${noun}_done`]: job.done,
      [`${noun}_total`]: job.total,
      left_s: job.leftS,
    }),
  )
  try {
    return await ended
  } finally {
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
