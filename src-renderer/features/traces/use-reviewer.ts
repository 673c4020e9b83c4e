import { useSyncExternalStore } from 'react'
import { readStored, writeStored } from '../../ui/storage.ts'

const KEY = 'reviewer'
const listeners = new Set<() => void>()
let known: string | null = null

function reviewer(): string {
  if (known === null) {
    const stored = readStored(KEY)
    known = typeof stored === 'string' ? stored : ''
  }
  return known
}

function name(text: string): void {
  known = text
  writeStored(KEY, text)
  for (const listener of listeners) listener()
}

/** Who decides, as last typed in any form; remembered on this machine. */
export function useReviewer(): readonly [string, (text: string) => void] {
  const text = useSyncExternalStore((listener) => {
    listeners.add(listener)
    return () => listeners.delete(listener)
  }, reviewer)
  return [text, name]
}
