import { useCallback, useMemo, useState } from 'react'
import type { HostState } from '#shared/domain/views.ts'
import { useNotices } from './notices.tsx'
import type { Client } from './connect.ts'
import { describeError } from './errors.ts'
import { useHostStore } from './host.tsx'

function isHostState(answer: unknown): answer is HostState {
  return typeof answer === 'object' && answer !== null && 'rig' in answer && 'monitoring' in answer
}

export interface Command<A extends readonly unknown[], T> {
  /** Resolves to null when the call failed; the failure is already on the notice board. */
  readonly run: (...args: A) => Promise<T | null>
  readonly busy: boolean
}

/**
 * A call to the host as a command of the interface. `title` heads its failures and says what could not be done. A
 * returned host state is taken over at once.
 */
export function useCommand<A extends readonly unknown[], T>(
  title: string,
  call: (client: Client, ...args: A) => Promise<T>,
): Command<A, T> {
  const store = useHostStore()
  const notices = useNotices()
  const [busy, setBusy] = useState(0)
  // The same as long as `call` is, which the compiler sees to: whoever is handed it is not drawn anew.
  const run = useCallback(
    async (...args: A): Promise<T | null> => {
      const { client } = store.snapshot()
      if (client === null) {
        notices.raise({
          kind: 'error',
          title,
          message: 'There is no connection to the host.',
          remedy: 'Wait until it is back, then try again.',
        })
        return null
      }
      setBusy((n) => n + 1)
      try {
        const answer = await call(client, ...args)
        if (isHostState(answer)) store.accept(answer)
        notices.settle(title)
        return answer
      } catch (error) {
        const detail = describeError(error)
        notices.raise({ kind: 'error', title, message: detail.message, remedy: detail.remedy })
        return null
      } finally {
        setBusy((n) => n - 1)
      }
    },
    [store, notices, title, call],
  )
  const isBusy = busy > 0
  return useMemo(() => ({ run, busy: isBusy }), [run, isBusy])
}
