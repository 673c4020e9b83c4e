import { contract } from '#shared/contract/contract.ts'
import type { Changed } from '#shared/domain/views.ts'
import type { StoredCalls, StoredOperations } from './facade.ts'

interface Marked {
  readonly operation?: keyof StoredOperations
  readonly changes?: Changed
}

/** What the contract marks as `stored`, answered by the archive as it is asked; what changes something is announced. */
export function storedCalls(store: StoredOperations, announce: (what: Changed) => void): StoredCalls {
  const groups = Object.entries(contract).map(([group, procedures]) => {
    const calls = Object.entries(procedures as Record<string, Marked>).flatMap(([name, { operation, changes }]) => {
      if (operation === undefined) return []
      const ask = async (input: never): Promise<unknown> => {
        const answer = await store[operation](input)
        if (changes !== undefined) announce(changes)
        return answer
      }
      return [[name, ask] as const]
    })
    return [group, Object.fromEntries(calls)] as const
  })
  return Object.fromEntries(groups) as unknown as StoredCalls
}
