import type { Clock } from '#main/core/ports.ts'
import { AppError } from '#shared/domain/errors.ts'

/**
 * The machine's clock. `rate` above 1 makes simulated time run faster than real time: `now` and `sleep` scale alike,
 * so everything on the same clock stays consistent. Real rigs use rate 1.
 */
export function createClock(rate = 1): Clock {
  return {
    rate,
    now: () => (performance.now() / 1000) * rate,
    iso: () => new Date().toISOString(),
    sleep: (seconds, signal) =>
      new Promise((resolve, reject) => {
        if (signal?.aborted) return reject(cancelled())
        const timer = setTimeout(
          () => {
            signal?.removeEventListener('abort', onAbort)
            resolve()
          },
          Math.max(0, (seconds / rate) * 1000),
        )
        function onAbort(): void {
          clearTimeout(timer)
          reject(cancelled())
        }
        signal?.addEventListener('abort', onAbort, { once: true })
      }),
  }
}

function cancelled(): AppError {
  return new AppError('cancelled', 'The work was cancelled.')
}
