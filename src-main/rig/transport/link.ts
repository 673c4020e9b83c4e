import type { SimFault, Simulation } from '#shared/domain/rig.ts'

/**
 * A stream of bytes to an instrument, whatever carries them: a serial port or a simulated rig in memory.
 *
 * Rules every implementation keeps:
 * - Bytes arrive in order; chunks may be cut anywhere.
 * - A chunk handed to a listener belongs to the listener: the link never writes to that memory again.
 * - `onClose` fires exactly once per listener, whether the far end vanished or `close` was called. A listener added
 *   after the end is called too (in a later microtask). No data follows it.
 * - `write` resolves once the bytes were handed over and rejects when the link is closed or the far end takes nothing.
 */
export interface ByteLink {
  write(bytes: Uint8Array): Promise<void>
  /** Answers with the function that removes the listener. */
  onData(listener: (chunk: Uint8Array) => void): () => void
  /** `reason` is a plain sentence without a full stop, fit for an error message. */
  onClose(listener: (reason: string) => void): () => void
  /** Idempotent; resolves once the far end is released. */
  close(): Promise<void>
  /** What the carrier can bring in one direction, bytes/s (serial, 10 bits per byte); null when unlimited or unknown. */
  readonly bytesPerSecond: number | null
}

/** A simulated instrument as the rig manager holds it: the instrument outlives its cable. */
export interface SimulatedInstrument {
  /** Plugs the cable in; rejects with `rig-absent` while the fault `unplug` stands. One link at a time. */
  open(): Promise<ByteLink>
  /** `unplug` closes the present link; `replug` lets `open` succeed again; `none` ends every other fault. */
  inject(fault: SimFault): Promise<void>
  /** Closes the link and frees everything the instrument holds. */
  dispose(): Promise<void>
}

export type OpenSimulated = (simulation: Simulation) => Promise<SimulatedInstrument>

/** The listeners of a link and its one end, whatever carries it. */
export class LinkListeners implements Pick<ByteLink, 'onData' | 'onClose'> {
  readonly #data = new Set<(chunk: Uint8Array) => void>()
  readonly #close = new Set<(reason: string) => void>()
  #ended: string | null = null

  /** Why the link ended; null while it lives. */
  get ended(): string | null {
    return this.#ended
  }

  readonly onData = (listener: (chunk: Uint8Array) => void): (() => void) => {
    this.#data.add(listener)
    return () => this.#data.delete(listener)
  }

  readonly onClose = (listener: (reason: string) => void): (() => void) => {
    const reason = this.#ended
    this.#close.add(listener)
    if (reason !== null)
      queueMicrotask(() => {
        if (this.#close.delete(listener)) listener(reason)
      })
    return () => this.#close.delete(listener)
  }

  deliver(chunk: Uint8Array): void {
    if (this.#ended === null) for (const listener of this.#data) listener(chunk)
  }

  /** Tells every listener, once. */
  end(reason: string): void {
    if (this.#ended !== null) return
    this.#ended = reason
    const told = [...this.#close]
    this.#close.clear()
    this.#data.clear()
    for (const listener of told) listener(reason)
  }
}
