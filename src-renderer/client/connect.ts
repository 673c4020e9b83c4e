/**
 * The way to the host: through the desktop's preload script where there is one, else through a WebSocket to the
 * server this page came from. Every rejection of a call is an AppError.
 */
import { createORPCClient } from '@orpc/client'
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
      return openSocketLink(await openSession(), signal)
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

/** State of the line to the host. */
export const connection = {
  state: (): ConnectionState => theEndpoint().state(),
}
