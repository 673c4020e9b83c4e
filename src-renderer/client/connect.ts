/**
 * The way to the host: through the desktop's preload script where there is one, else through a WebSocket to the
 * server this page came from. Every rejection of a call is an AppError.
 */
import { createORPCClient } from '@orpc/client'
import type { HostEvent } from '#shared/domain/views.ts'
import { desktopBridge } from './bridge.ts'
import type { Client } from './client.ts'
import { Endpoint, type ConnectionState } from './endpoint.ts'
import { openPortLink, openSession, openSocketLink } from './link.ts'

export type { Client } from './client.ts'

let endpoint: Endpoint | undefined

function theEndpoint(): Endpoint {
  endpoint ??= new Endpoint({
    open: async (signal) => {
      const bridge = desktopBridge()
      if (bridge !== undefined) return openPortLink(bridge, signal)
      await openSession()
      return openSocketLink(signal)
    },
  })
  return endpoint
}

/**
 * Resolves once the host answered; rejects with AppError `conflict` when this page's address is not valid for the
 * server, `timeout` when the host does not answer. The client stays usable over later breaks of the line.
 */
export async function connect(): Promise<Client> {
  const link = theEndpoint()
  await link.ready()
  return createORPCClient<Client>(link)
}

/** External store (useSyncExternalStore) of the state of the line. */
export const connection = {
  state: (): ConnectionState => theEndpoint().state(),
  subscribe: (listener: () => void): (() => void) => theEndpoint().onState(listener),
}

/**
 * Follows the host until the signal aborts: hears the present state first and again after every break of the line.
 * Events missed during a break are not sent again, so lists are asked anew when a `state` event follows a break;
 * `onBreak` is called at each break.
 */
export async function follow(
  client: Client,
  listener: (event: HostEvent) => void,
  signal: AbortSignal,
  onBreak: () => void = () => undefined,
): Promise<void> {
  while (!signal.aborted) {
    try {
      // oxlint-disable-next-line no-await-in-loop
      for await (const event of await client.system.watch(undefined, { signal })) listener(event)
    } catch (error) {
      if (signal.aborted) return
      if (connection.state().kind === 'refused') throw error
    }
    onBreak()
    // oxlint-disable-next-line no-await-in-loop
    await new Promise((resolve) => setTimeout(resolve, 250))
  }
}
