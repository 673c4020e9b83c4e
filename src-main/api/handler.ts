import { isContractProcedure } from '@orpc/contract'
import { RPCHandler } from '@orpc/server/message-port'
import type { CallContext } from '#shared/contract/wire.ts'
import { AppError } from '#shared/domain/errors.ts'
import { toFailure } from './failure.ts'
import { createRouter, type ApiDeps } from './router.ts'

/** A port as a transport offers it: requests in, answers and stream events out, both plain objects. */
interface ApiPort {
  on(event: string, listener: (event?: { data: unknown }) => void): void
  postMessage(message: unknown): void
}

export interface Api {
  /** Answers the requests of one connection until the port emits `close`, which cancels what still runs. */
  readonly serve: (port: ApiPort, context: CallContext) => void
}

export function createApi(deps: ApiDeps): Api {
  const handler = new RPCHandler<CallContext>(createRouter(deps), {
    // An answer goes out as the object it is, except a stream, which the library turns into messages of its own.
    experimental_transfer: ([, , payload]) => (isStreamStart(payload) ? undefined : []),
    interceptors: [
      async (options) => {
        try {
          const result = await options.next()
          if (result.matched) return result
        } catch (error) {
          throw toFailure(error, deps.log, options.request.url.pathname)
        }
        throw toFailure(new AppError('not-found', 'There is no such call.'), deps.log, options.request.url.pathname)
      },
    ],
    clientInterceptors: [
      (options) => {
        const { input, procedure } = options
        const takesInput = isContractProcedure(procedure) && procedure['~orpc'].inputSchema !== undefined
        if (!takesInput && input !== undefined && input !== null)
          throw new AppError('invalid-input', 'This call takes no input.', 'Correct the input.')
        return options.next()
      },
    ],
  })
  return { serve: (port, context) => handler.upgrade(port, { context }) }
}

function isStreamStart(payload: unknown): boolean {
  if (typeof payload !== 'object' || payload === null || !('body' in payload)) return false
  const { body } = payload
  return typeof body === 'object' && body !== null && Symbol.asyncIterator in body
}
