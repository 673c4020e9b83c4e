/**
 * The only place where messages from pages enter the desktop application: a page of ours asks for a port, and
 * everything else runs over that port. Electron's parts are handed in, so that this file runs (and is tested) anywhere.
 */
import type { Log } from '#main/core/ports.ts'
import { PORT_ANSWER, PORT_REQUEST } from '#shared/contract/wire.ts'
import { serveLink, type HostLink, type Serve } from './serve.ts'

/** What is used of Electron's MessagePortMain. */
export interface MainPort {
  on(event: 'message', listener: (event: { data: unknown }) => void): unknown
  on(event: 'close', listener: () => void): unknown
  postMessage(message: unknown): void
  start(): void
  close(): void
}

/** Who asks: what is used of Electron's IpcMainEvent. */
export interface PortRequest<P> {
  readonly sender: { readonly id: number }
  readonly senderFrame: {
    readonly url: string
    readonly parent: unknown
    postMessage(channel: string, message: unknown, ports: P[]): void
  } | null
}

export interface IpcOptions<P> {
  readonly onRequest: (channel: string, listener: (event: PortRequest<P>) => void) => void
  readonly newChannel: () => { port1: P & MainPort; port2: P }
  /** Whether a window of ours has this id. */
  readonly isOwnWindow: (webContentsId: number) => boolean
  /** Where our pages come from, such as `app://slewlight`. */
  readonly origin: string
  readonly serve: Serve
  readonly log: Log
}

/** Only the top frame of one of our own windows, showing a page of our own origin, gets a port. */
export function isTrusted(
  request: Pick<PortRequest<never>, 'sender'> & { senderFrame: { url: string; parent: unknown } | null },
  options: Pick<IpcOptions<never>, 'isOwnWindow' | 'origin'>,
): boolean {
  const frame = request.senderFrame
  if (frame === null || frame.parent !== null || !options.isOwnWindow(request.sender.id)) return false
  try {
    // The origin of a scheme of our own is opaque to URL, hence the parts.
    const from = new URL(frame.url)
    const own = new URL(options.origin)
    return from.protocol === own.protocol && from.host === own.host && from.username === '' && from.password === ''
  } catch {
    return false
  }
}

export function serveIpc<P>(options: IpcOptions<P>): void {
  options.onRequest(PORT_REQUEST, (event) => {
    if (!isTrusted(event, options)) {
      options.log.warn('A frame that is not ours asked for a port; it was refused.', {
        url: event.senderFrame?.url ?? '',
      })
      return
    }
    const { port1, port2 } = options.newChannel()
    serveLink(portLink(port1), options.serve, options.log)
    event.senderFrame?.postMessage(PORT_ANSWER, null, [port2])
  })
}

function portLink(port: MainPort): HostLink {
  const listeners = new Set<() => void>()
  let open = true
  const end = (): void => {
    if (!open) return
    open = false
    for (const listener of listeners) listener()
  }
  port.on('close', end)
  return {
    post: (message) => {
      if (open) port.postMessage(message)
    },
    onMessage: (listener) => {
      port.on('message', (event) => listener(event.data))
      port.start()
    },
    onClose: (listener) => void listeners.add(listener),
    close: () => {
      port.close()
      end()
    },
  }
}
