/** One end of a connection to the host: objects in, objects out, whatever carries them. */
import { ACK_EVERY } from '#shared/contract/wire.ts'

export interface Link {
  /** @throws AppError `invalid-input` when the message is larger than a frame may be. */
  post(message: unknown): void
  onMessage(listener: (message: unknown) => void): void
  onClose(listener: () => void): void
  close(): void
}

/** Shape that oRPC's message-port client takes for a port. */
export interface LinkPort {
  on(event: string, listener: (event?: { data: unknown }) => void): void
  postMessage(message: unknown): void
}

/** Wraps a link for oRPC and acknowledges what arrives, which is what holds the host's streams back. */
export function asPort(link: Link): LinkPort {
  return {
    postMessage: (message) => link.post(message),
    on: (event, listener) => {
      if (event === 'close') link.onClose(() => listener())
      if (event !== 'message') return
      let taken = 0
      link.onMessage((data) => {
        listener({ data })
        taken += 1
        if (taken < ACK_EVERY) return
        link.post({ ack: taken })
        taken = 0
      })
    },
  }
}
