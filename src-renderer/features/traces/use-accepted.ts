import type { AcceptedFlag } from '#shared/domain/desk.ts'
import { useHostQuery } from '../../client/queries.ts'

const NONE: readonly AcceptedFlag[] = []

/** Flags that are accepted for whole sweeps. */
export function useAccepted(): readonly AcceptedFlag[] {
  return (
    useHostQuery(['reviews', 'accepted'], (client, signal) => client.reviews.acceptedFlags(undefined, { signal }))
      .data ?? NONE
  )
}
