/**
 * Bytes to program messages. NL ends a message wherever it stands: no command of this instrument takes block data, so
 * none can hold an NL, and a host can always get back into step by sending one.
 */
export type InputEvent = { readonly kind: 'message'; readonly text: string } | { readonly kind: 'overrun' }

/** Longest program message, bytes. */
export const MESSAGE_LIMIT = 4096
const NL = 0x0a

export class ProgramInput {
  #bytes: number[] = []
  #overrun = false

  push(chunk: Uint8Array): InputEvent[] {
    const events: InputEvent[] = []
    for (const byte of chunk) {
      if (byte === NL) {
        if (!this.#overrun) events.push({ kind: 'message', text: String.fromCharCode(...this.#bytes) })
        this.clear()
      } else if (!this.#overrun) {
        // IEEE 488.2 7.4.1.2: every control character but NL is white space.
        this.#bytes.push(byte < 0x20 ? 0x20 : byte)
        if (this.#bytes.length > MESSAGE_LIMIT) {
          events.push({ kind: 'overrun' })
          this.#bytes = []
          this.#overrun = true
        }
      }
    }
    return events
  }

  clear(): void {
    this.#bytes = []
    this.#overrun = false
  }
}
