/** Dark unless the operator chose light; the choice stays on this machine. */
import { useSyncExternalStore } from 'react'
import { readStored, writeStored } from './storage.ts'

import type { Theme } from './colour.ts'
export type { Theme } from './colour.ts'

const KEY = 'theme'
const listeners = new Set<() => void>()

export function currentTheme(): Theme {
  return document.documentElement.dataset['theme'] === 'light' ? 'light' : 'dark'
}

export function setTheme(theme: Theme): void {
  document.documentElement.dataset['theme'] = theme
  writeStored(KEY, theme)
  for (const listener of listeners) listener()
}

export function restoreTheme(): void {
  document.documentElement.dataset['theme'] = readStored(KEY) === 'light' ? 'light' : 'dark'
}

function subscribe(listener: () => void): () => void {
  listeners.add(listener)
  return () => listeners.delete(listener)
}

export function useTheme(): Theme {
  return useSyncExternalStore(subscribe, currentTheme)
}
