import type { SimClock } from '#main/rig/simulated/sim-clock.ts'

interface Sleeper {
  readonly due: number
  readonly wake: () => void
}

/** A clock that stands still until it is moved; sleepers wake in the order they are due. */
export interface ManualClock extends SimClock {
  advance(seconds: number): Promise<void>
}

export function manualClock(startS = 1000): ManualClock {
  let now = startS
  const sleepers = new Set<Sleeper>()
  const settle = async (): Promise<void> => {
    // Lets chains of promises between two sleeps run out.
    await new Promise<void>((resolve) => {
      setImmediate(resolve)
    })
  }
  return {
    now: () => now,
    sleep: (seconds, signal) =>
      new Promise((resolve, reject) => {
        if (signal?.aborted === true) {
          reject(new Error('aborted'))
          return
        }
        const sleeper: Sleeper = { due: now + Math.max(0, seconds), wake: resolve }
        sleepers.add(sleeper)
        signal?.addEventListener('abort', () => {
          sleepers.delete(sleeper)
          reject(new Error('aborted'))
        })
      }),
    async advance(seconds) {
      const end = now + seconds
      await settle()
      for (;;) {
        const [next] = [...sleepers].filter((sleeper) => sleeper.due <= end).sort((a, b) => a.due - b.due)
        if (!next) break
        sleepers.delete(next)
        now = Math.max(now, next.due)
        next.wake()
        await settle()
      }
      now = end
    },
  }
}
