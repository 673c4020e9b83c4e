/** The in-memory cable of the simulated rig: its host end is a ByteLink, its rig end sends at a rate or at once. */
import { type ByteLink, LinkListeners } from '../transport/link.ts'
import type { SimClock } from './sim-clock.ts'

export interface ByteOutlet {
  readonly link: ByteLink
  send(bytes: Uint8Array): void
  setRate(bytesPerSecond: number | null): void
  /** Nothing comes out while stalled; what is under way waits. */
  setStalled(stalled: boolean): void
  end(reason: string): void
}

export interface OutletOptions {
  readonly clock: SimClock
  readonly bytesPerSecond: number | null
  readonly onInput: (bytes: Uint8Array) => void
  /** The host closed its end. */
  readonly onClosed: () => void
}

/** Largest piece handed over at once, bytes, and how often a slow link hands over, s. */
const CHUNK = 65_536
const SLOW_STEP_S = 0.01

export function createByteOutlet(options: OutletOptions): ByteOutlet {
  const listeners = new LinkListeners()
  const queue: Uint8Array[] = []
  let rate = options.bytesPerSecond
  let stalled = false
  let pumping = false
  /** When the line is free again after what was sent last, s. */
  let freeS = -Infinity

  async function pump(): Promise<void> {
    if (pumping) return
    pumping = true
    try {
      for (;;) {
        // Answers always come in a later turn than the command that asked for them, as from outside.
        await Promise.resolve()
        const head = queue[0]
        if (head === undefined || stalled || listeners.ended !== null) return
        const size = rate === null ? CHUNK : Math.max(1, Math.floor(rate * SLOW_STEP_S))
        if (rate !== null) {
          const now = options.clock.now()
          freeS = Math.max(freeS, now) + Math.min(size, head.length) / rate
          await options.clock.sleep(freeS - now)
        }
        if (stalled || listeners.ended !== null) return
        queue[0] = head.subarray(size)
        if (head.length <= size) queue.shift()
        const chunk = head.slice(0, size)
        listeners.deliver(chunk)
      }
    } finally {
      pumping = false
    }
  }

  function start(): void {
    pump().catch((error: unknown) => end(error instanceof Error ? error.message : String(error)))
  }

  function end(reason: string): void {
    queue.length = 0
    listeners.end(reason)
  }

  const link: ByteLink = {
    get bytesPerSecond() {
      return rate
    },
    async write(bytes) {
      if (listeners.ended !== null) throw new Error(`The link is closed: ${listeners.ended}.`)
      const copy = bytes.slice()
      await Promise.resolve()
      options.onInput(copy)
    },
    onData: listeners.onData,
    onClose: listeners.onClose,
    async close() {
      end('it was closed')
      options.onClosed()
    },
  }

  return {
    link,
    send(bytes) {
      if (listeners.ended !== null) return
      queue.push(bytes)
      start()
    },
    setRate(next) {
      rate = next
      start()
    },
    setStalled(next) {
      stalled = next
      start()
    },
    end,
  }
}
