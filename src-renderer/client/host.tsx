import { createContext, use, useSyncExternalStore, type ReactNode } from 'react'
import type { HostState } from '#shared/domain/views.ts'
import type { Client } from './connect.ts'
import type { HostSnapshot, HostStore } from './host-store.ts'

const HostContext = createContext<HostStore<Client> | null>(null)

export function HostProvider({ store, children }: { store: HostStore<Client>; children: ReactNode }) {
  return <HostContext value={store}>{children}</HostContext>
}

export function useHostStore(): HostStore<Client> {
  const store = use(HostContext)
  if (store === null) throw new Error('No host store around this component.')
  return store
}

/** The whole snapshot, or the part of it a component needs (the selector must return stable values). */
export function useHost(): HostSnapshot<Client>
export function useHost<T>(select: (snapshot: HostSnapshot<Client>) => T): T
export function useHost<T>(select?: (snapshot: HostSnapshot<Client>) => T): T | HostSnapshot<Client> {
  const store = useHostStore()
  return useSyncExternalStore(store.subscribe, () =>
    select === undefined ? store.snapshot() : select(store.snapshot()),
  )
}

/** Part of the newest host state; the shell shows no screen before there is one. */
export function useHostState<T>(select: (state: HostState) => T): T {
  return useHost(({ state }) => {
    if (state === null) throw new Error('No host state yet.')
    return select(state)
  })
}

/** The client while the line is open, else null. */
export function useClient(): Client | null {
  return useHost((snapshot) => snapshot.client)
}
