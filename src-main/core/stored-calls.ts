import { contract } from '#shared/contract/contract.ts'
import type { StoredCalls, StoredOperations } from './facade.ts'

/** What the contract marks as `stored`, answered by the archive as it is asked. */
export function storedCalls(store: StoredOperations): StoredCalls {
  const groups = Object.entries(contract).map(([group, procedures]) => {
    const calls = Object.entries(procedures as Record<string, object>).flatMap(([name, procedure]) =>
      'operation' in procedure
        ? [[name, (input: never) => store[procedure.operation as keyof StoredOperations](input)] as const]
        : [],
    )
    return [group, Object.fromEntries(calls)] as const
  })
  return Object.fromEntries(groups) as unknown as StoredCalls
}
