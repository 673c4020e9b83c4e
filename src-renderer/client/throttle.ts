/** Timers a throttle may use; injected in tests. */
export interface Timers {
  now(): number
  set(run: () => void, ms: number): unknown
  clear(handle: unknown): void
}

const systemTimers: Timers = {
  now: () => performance.now(),
  set: (run, ms) => setTimeout(run, ms),
  clear: (handle) => clearTimeout(handle as ReturnType<typeof setTimeout>),
}

/**
 * Runs at once, then at most once every `ms`, the last call never being lost. However often it is called, at most one
 * run is pending.
 */
export function throttle(run: () => void, ms: number, timers: Timers = systemTimers): { (): void; cancel(): void } {
  let last = -Infinity
  let pending: unknown = null
  const fire = () => {
    pending = null
    last = timers.now()
    run()
  }
  const call = () => {
    if (pending !== null) return
    const wait = last + ms - timers.now()
    if (wait <= 0) fire()
    else pending = timers.set(fire, wait)
  }
  return Object.assign(call, {
    cancel() {
      if (pending !== null) timers.clear(pending)
      pending = null
    },
  })
}
