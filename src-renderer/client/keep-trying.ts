/** Tries again and again with growing pauses: the one loop behind the line to the host and the picture of it. */
import { AppError } from '#shared/domain/errors.ts'
import { asAppError } from './errors.ts'

export interface KeepTrying {
  /** Lasts as long as what it set up; calls `up` once that stands, which makes the next pause the shortest again. */
  readonly attempt: (up: () => void, signal: AbortSignal) => Promise<void>
  /** It ended or failed; `attempts` counts from the last success. */
  readonly onDown: (problem: AppError, attempts: number) => void
  /** Trying again is useless: the other side refuses this page (`conflict`). Nothing is tried any more. */
  readonly onRefused: (problem: AppError) => void
  readonly signal: AbortSignal
  readonly firstMs: number
  readonly longestMs: number
  /** Share by which pauses vary at random, so that many pages do not come back at once. */
  readonly jitter?: number
  readonly sleep?: (ms: number, signal: AbortSignal) => Promise<void>
}

export async function keepTrying(options: KeepTrying): Promise<void> {
  const { attempt, signal, firstMs, longestMs, jitter = 0, sleep = pause } = options
  let attempts = 0
  // One attempt after the other is the point of this loop.
  // oxlint-disable no-await-in-loop
  while (!signal.aborted) {
    let problem = new AppError('cancelled', 'The host closed the connection.')
    try {
      await attempt(() => {
        attempts = 0
      }, signal)
    } catch (error) {
      problem = asAppError(error)
    }
    if (signal.aborted) return
    if (problem.code === 'conflict') {
      options.onRefused(problem)
      return
    }
    attempts += 1
    options.onDown(problem, attempts)
    const ms = Math.min(longestMs, firstMs * 2 ** (attempts - 1))
    await sleep(ms * (1 + jitter * (2 * Math.random() - 1)), signal)
  }
  // oxlint-enable no-await-in-loop
}

/** Resolves after `ms` or as soon as the signal fires; never rejects. */
function pause(ms: number, signal: AbortSignal): Promise<void> {
  return new Promise((resolve) => {
    if (signal.aborted) return resolve()
    const timer = setTimeout(done, ms)
    function done() {
      clearTimeout(timer)
      signal.removeEventListener('abort', done)
      resolve()
    }
    signal.addEventListener('abort', done)
  })
}
