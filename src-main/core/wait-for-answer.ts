/** A question that work at a display puts to whoever is there. */
import { AppError } from '#shared/domain/errors.ts'

/**
 * Resolves with the answer, given through `mine.waiting`, which is null while nothing is asked. Rejects with `cancelled`
 * when the signal aborts first.
 */
export function waitForAnswer<A>(
  mine: { waiting: ((answer: A) => void) | null },
  signal: AbortSignal,
  on: {
    /** Shows the question; called once it can be answered. */
    readonly asked: () => void
    /** Takes it from the screen, answered or not. */
    readonly over: () => void
    /** What a cancelled wait says. */
    readonly stopped: string
  },
): Promise<A> {
  return new Promise((resolve, reject) => {
    const end = (): void => {
      signal.removeEventListener('abort', stop)
      mine.waiting = null
      on.over()
    }
    const stop = (): void => {
      end()
      reject(new AppError('cancelled', on.stopped))
    }
    if (signal.aborted) return stop()
    signal.addEventListener('abort', stop)
    mine.waiting = (answer) => {
      end()
      resolve(answer)
    }
    on.asked()
  })
}
