import { AppError } from '#shared/domain/errors.ts'
import type { Clock } from '#main/core/ports.ts'

interface Sleeper {
  readonly due: number
  readonly wake: () => void
}

/** A clock that stands still until it is moved; sleepers wake in the order they are due. */
export interface ManualClock extends Clock {
  advance(seconds: number): Promise<void>
  /**
   * From now on jumps from sleeper to sleeper as soon as everybody sleeps; ends with the function it answers. Time stands
   * while `held` gives something to wait for, such as another thread's work.
   */
  run(held?: () => Promise<unknown> | null): () => void
}

/** Only what stands idle sleeps for longer, s. Time then goes on slowly, unless somebody has something to do. */
const IDLE_S = 25
const IDLE_TURN_MS = 2
const IDLE_TURNS = 100

/** Its dates begin with the given one, ms. */
export function manualClock(beganMs = Date.UTC(2000, 0, 1)): ManualClock {
  const startS = 1000
  let now = startS
  const sleepers = new Set<Sleeper>()
  const next = (until: number): Sleeper | undefined => {
    let first: Sleeper | undefined
    for (const sleeper of sleepers) if (sleeper.due <= until && (!first || sleeper.due < first.due)) first = sleeper
    return first
  }
  const wakeNext = (until: number): boolean => {
    const sleeper = next(until)
    if (!sleeper) return false
    sleepers.delete(sleeper)
    now = Math.max(now, sleeper.due)
    sleeper.wake()
    return true
  }
  return {
    now: () => now,
    iso: () => new Date(beganMs + 1000 * (now - startS)).toISOString(),
    sleep: (seconds, signal) =>
      new Promise((resolve, reject) => {
        const refuse = (): void => reject(new AppError('cancelled', 'The work was cancelled.'))
        if (signal?.aborted === true) {
          refuse()
          return
        }
        const onAbort = (): void => {
          sleepers.delete(sleeper)
          refuse()
        }
        const sleeper: Sleeper = {
          due: now + Math.max(0, seconds),
          wake() {
            signal?.removeEventListener('abort', onAbort)
            resolve()
          },
        }
        sleepers.add(sleeper)
        signal?.addEventListener('abort', onAbort, { once: true })
      }),
    async advance(seconds) {
      const end = now + seconds
      await turn()
      while (wakeNext(end)) await turn()
      now = end
    },
    run(held = () => null) {
      const stopped = new AbortController()
      const go = async (): Promise<void> => {
        while (!stopped.signal.aborted) {
          await turn()
          for (let wait = held(); wait !== null; wait = held()) await wait.then(turn)
          for (let n = 0; !wakeNext(now + IDLE_S) && !stopped.signal.aborted; n++) {
            await new Promise((resolve) => setTimeout(resolve, IDLE_TURN_MS))
            if (n === IDLE_TURNS) wakeNext(Infinity)
          }
        }
      }
      void go()
      return () => stopped.abort()
    },
  }
}

/** Lets chains of promises between two sleeps run out. */
function turn(): Promise<void> {
  return new Promise((resolve) => {
    setImmediate(resolve)
  })
}
