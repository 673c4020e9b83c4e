/** Single-key shortcuts. They can be switched off, and never act while text is typed or a dialog is open (WCAG 2.1.4). */
import { useEffect, useSyncExternalStore } from 'react'
import { readStored, writeStored } from './storage.ts'

export interface Shortcut {
  /** `KeyboardEvent.key`; letters in lower case. */
  readonly key: string
  readonly what: string
}

export const SHORTCUTS = {
  help: { key: '?', what: 'Show or hide this list' },
  run: { key: 'r', what: 'Start the sweep, pause it or go on' },
  stop: { key: 's', what: 'Stop the sweep' },
  live: { key: 'l', what: 'Back to the live trace' },
  matrix: { key: 'm', what: 'Go to the matrix (then arrow keys, Enter)' },
  view: { key: 'v', what: 'Switch the trace between the edge and the whole record' },
  setup: { key: 'u', what: 'Show or hide the set-up' },
  theme: { key: 't', what: 'Switch between dark and light' },
} as const satisfies Record<string, Shortcut>
export type ShortcutId = keyof typeof SHORTCUTS

const KEY = 'single-keys'
const listeners = new Set<() => void>()
let enabled: boolean | null = null

function singleKeysOn(): boolean {
  enabled ??= readStored(KEY) !== false
  return enabled
}

export function setSingleKeys(on: boolean): void {
  enabled = on
  writeStored(KEY, on)
  for (const listener of listeners) listener()
}

export function useSingleKeys(): boolean {
  return useSyncExternalStore((listener) => {
    listeners.add(listener)
    return () => listeners.delete(listener)
  }, singleKeysOn)
}

/** Inputs that take no text. */
const TOGGLES: readonly string[] = ['checkbox', 'radio', 'range', 'button']

function takesText(target: EventTarget | null): boolean {
  if (!(target instanceof HTMLElement)) return false
  return (
    target.isContentEditable ||
    ['TEXTAREA', 'SELECT'].includes(target.tagName) ||
    (target instanceof HTMLInputElement && !TOGGLES.includes(target.type)) ||
    // Typing in a list looks for its items.
    target.closest('[role=listbox]') !== null
  )
}

/** Runs an action on its key. A list or an open dialog keeps its keys to itself. */
export function useShortcut(id: ShortcutId, run: () => void, active = true): void {
  const on = useSingleKeys()
  useEffect(() => {
    if (!active || !on) return undefined
    const listen = (event: KeyboardEvent) => {
      const key = event.key.length === 1 ? event.key.toLowerCase() : event.key
      if (key !== SHORTCUTS[id].key || event.ctrlKey || event.altKey || event.metaKey || event.repeat) return
      if (event.defaultPrevented || takesText(event.target)) return
      if (id !== 'help' && document.querySelector('[role=dialog],[role=alertdialog]') !== null) return
      event.preventDefault()
      run()
    }
    addEventListener('keydown', listen)
    return () => removeEventListener('keydown', listen)
  }, [id, run, active, on])
}
