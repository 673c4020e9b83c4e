/**
 * Pulls the newest recording for the live plot: at most one request under way and at most one per animation frame.
 * Nothing is queued, so a slow host or a slow screen only lowers the rate.
 */
export interface LivePullerOptions<T extends { readonly revision: number }> {
  /** Answers null when nothing is newer than `since`. */
  readonly request: (since: number) => Promise<T | null>
  readonly onFrame: (frame: T) => void
  readonly onError: (error: unknown) => void
  /** Least time between requests while nothing new comes, ms; 0 asks every frame. */
  readonly idleMs: () => number
  readonly nextFrame: (run: (now: number) => void) => number
  readonly cancelFrame: (handle: number) => void
}

/** Wait after a failed request, ms. */
const ERROR_WAIT_MS = 1000

export function startLivePuller<T extends { readonly revision: number }>(options: LivePullerOptions<T>): () => void {
  let stopped = false
  let busy = false
  let since = 0
  let notBefore = 0
  let handle = options.nextFrame(tick)

  function tick(now: number): void {
    if (stopped) return
    handle = options.nextFrame(tick)
    if (busy || now < notBefore) return
    busy = true
    void pull(now)
  }

  async function pull(now: number): Promise<void> {
    try {
      const frame = await options.request(since)
      if (stopped) return
      if (frame === null) notBefore = now + options.idleMs()
      else {
        since = frame.revision
        options.onFrame(frame)
      }
    } catch (error) {
      if (stopped) return
      notBefore = now + ERROR_WAIT_MS
      options.onError(error)
    } finally {
      busy = false
    }
  }

  return () => {
    stopped = true
    options.cancelFrame(handle)
  }
}
