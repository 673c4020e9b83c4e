/**
 * Pulls the newest recording for the live plot: at most one request under way and at most one per animation frame.
 * Nothing is queued, so a slow host or a slow screen only lowers the rate.
 */
export interface LivePullerOptions<T extends { readonly revision: number }> {
  /** Answers null when nothing is newer than `since`. */
  readonly request: (since: number) => Promise<T | null>
  readonly onFrame: (frame: T) => void
  readonly onError: (error: unknown) => void
  /** Wait before the next request while nothing new comes, ms; 0 asks every frame. */
  readonly idleMs: () => number
  readonly nextFrame: (run: () => void) => number
  readonly cancelFrame: (handle: number) => void
  /** Runs once after so many ms, not while the page is hidden; answers how to call it off. */
  readonly rest: (ms: number, run: () => void) => () => void
}

/** Wait after a failed request, ms. */
const ERROR_WAIT_MS = 1000

/**
 * Frames are asked for only where one is likely to be drawn: a page that asks for every frame to see whether something
 * is new keeps its own thread, the compositor and the host busy sixty times a second.
 */
export function startLivePuller<T extends { readonly revision: number }>(options: LivePullerOptions<T>): () => void {
  let stopped = false
  let since = 0
  let callOff = onFrame()

  function onFrame(): () => void {
    const handle = options.nextFrame(() => void pull())
    return () => options.cancelFrame(handle)
  }

  function again(waitMs: number): void {
    callOff = waitMs > 0 ? options.rest(waitMs, () => void pull()) : onFrame()
  }

  async function pull(): Promise<void> {
    try {
      const frame = await options.request(since)
      if (stopped) return
      if (frame !== null) {
        since = frame.revision
        options.onFrame(frame)
      }
      again(frame === null ? options.idleMs() : 0)
    } catch (error) {
      if (stopped) return
      options.onError(error)
      again(ERROR_WAIT_MS)
    }
  }

  return () => {
    stopped = true
    callOff()
  }
}
