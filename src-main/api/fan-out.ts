import type { HostEvent } from '#shared/domain/views.ts'

/** Most events of one kind that wait for a slow listener; the oldest give way. */
export const WAITING_LIMIT = 200
const nothing = (): void => undefined
/** Least time between two bunches of events, ms: nothing on a screen changes faster. */
const BUNCH_MS = 30

function same(a: HostEvent, b: HostEvent): boolean {
  return (
    a.kind === b.kind && (a.kind === 'state' || (a.kind === 'changed' && b.kind === 'changed' && a.what === b.what))
  )
}

/**
 * Waiting events of one listener. Only the newest state and one announcement per subject are kept, captures and log
 * entries up to a limit, so that a listener that sleeps for hours costs a bounded amount of memory.
 */
export function createWaiting(): { add(event: HostEvent): void; take(): HostEvent[]; readonly size: number } {
  let events: HostEvent[] = []
  return {
    add(event) {
      events = events.filter((waiting) => !same(waiting, event))
      events.push(event)
      if (events.filter((waiting) => waiting.kind === event.kind).length > WAITING_LIMIT)
        events.splice(
          events.findIndex((waiting) => waiting.kind === event.kind),
          1,
        )
    },
    take() {
      const taken = events
      events = []
      return taken
    },
    get size() {
      return events.length
    },
  }
}

/**
 * The events of one listener as a stream: what `first` answers, then every change, no faster than the other side takes
 * them. Ends when the signal aborts.
 */
export async function* eventStream(
  watch: (listener: (event: HostEvent) => void) => () => void,
  first: () => HostEvent,
  drained: () => Promise<void>,
  signal: AbortSignal,
): AsyncGenerator<HostEvent, void> {
  const waiting = createWaiting()
  let wake = nothing
  const unwatch = watch((event) => {
    waiting.add(event)
    wake()
  })
  const onAbort = (): void => wake()
  signal.addEventListener('abort', onAbort)
  try {
    yield first()
    // Each step waits for the one before it: that is the back-pressure.
    while (!signal.aborted) {
      if (waiting.size === 0)
        // oxlint-disable-next-line no-await-in-loop
        await new Promise<void>((resolve) => {
          wake = resolve
        })
      // oxlint-disable-next-line no-await-in-loop
      await Promise.all([drained(), new Promise((resolve) => setTimeout(resolve, BUNCH_MS))])
      for (const event of waiting.take()) {
        if (signal.aborted) return
        yield event
      }
    }
  } finally {
    signal.removeEventListener('abort', onAbort)
    unwatch()
  }
}
