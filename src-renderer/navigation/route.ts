import { useSyncExternalStore } from 'react'

/** `#/traces/12?flag=clipped` is screen `traces`, rest `12`, and its parameters. */
export interface Route {
  readonly screen: string
  readonly rest: string
  readonly parameters: URLSearchParams
}

/** Reads an address fragment; anything that is not a route (such as a session token) is the start page. */
export function parseRoute(hash: string): Route {
  if (!hash.startsWith('#/')) return { screen: '', rest: '', parameters: new URLSearchParams() }
  const [path = '', query = ''] = hash.slice(2).split('?', 2)
  const [screen = '', ...rest] = path.split('/')
  return { screen, rest: rest.map(decodePart).join('/'), parameters: new URLSearchParams(query) }
}

function decodePart(part: string): string {
  try {
    return decodeURIComponent(part)
  } catch {
    return part
  }
}

function subscribe(listener: () => void): () => void {
  addEventListener('hashchange', listener)
  return () => removeEventListener('hashchange', listener)
}

export function useHash(): string {
  return useSyncExternalStore(subscribe, () => location.hash)
}

/** Goes to a route, such as `#/recipes/12ab`. */
export function goTo(route: string): void {
  location.hash = route
}
