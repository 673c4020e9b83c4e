/** Single-key shortcuts. They can be switched off, and never act while text is typed or a dialog is open (WCAG 2.1.4). */
import { useEffect, useSyncExternalStore } from 'react'
import { readStored, writeStored } from './storage.ts'
import { useStable } from './use-stable.ts'

export interface Shortcut {
  /** `KeyboardEvent.key`; letters in lower case. */
  readonly key: string
  readonly what: string
  /** Screen it works on; the same key may do something else on another one. */
  readonly on: 'every screen' | 'Bench' | 'Traces'
}

export const SHORTCUTS = {
  help: { on: 'every screen', key: '?', what: 'Show or hide this list' },
  theme: { on: 'every screen', key: 't', what: 'Switch between dark and light' },
  run: { on: 'Bench', key: 'r', what: 'Start the sweep, pause it or go on' },
  stop: { on: 'Bench', key: 's', what: 'Stop the sweep' },
  plan: { on: 'Bench', key: 'n', what: 'Plan the next sweep, or go back to the sweep in view' },
  live: { on: 'Bench', key: 'l', what: 'Back from a transition to the sweep' },
  matrix: { on: 'Bench', key: 'm', what: 'Go to the matrix (then arrow keys, Enter)' },
  view: { on: 'Bench', key: 'v', what: 'Switch the trace between the edge and the whole record' },
  setup: { on: 'Bench', key: 'u', what: 'Show or hide rig and stimulus' },
  list: { on: 'Traces', key: 'l', what: 'Go to the list (then arrow keys)' },
  search: { on: 'Traces', key: '/', what: 'Go to the filters' },
  nextDoubt: { on: 'Traces', key: 'n', what: 'Next doubtful capture' },
  previousDoubt: { on: 'Traces', key: 'p', what: 'Previous doubtful capture' },
  plot: { on: 'Traces', key: 'g', what: 'Go to the plot (then arrow keys, +, −, 0)' },
  span: { on: 'Traces', key: 'v', what: 'Switch the plot between the edge and the whole record' },
  flags: { on: 'Traces', key: 'f', what: 'Go to the flags (Enter shows the samples)' },
  keep: { on: 'Traces', key: 'k', what: 'Keep the capture: write the reason' },
  exclude: { on: 'Traces', key: 'e', what: 'Exclude the capture: write the reason' },
  retake: { on: 'Traces', key: 'q', what: 'Send the capture back to be retaken: write the reason' },
  marks: { on: 'Traces', key: 'w', what: 'Move level windows, crossings or the analysed span' },
  cursors: { on: 'Traces', key: 'c', what: 'Show or hide the two cursors' },
  repeats: { on: 'Traces', key: 'o', what: 'Overlay the repeats on the trace' },
  pin: { on: 'Traces', key: 'a', what: 'Pin or unpin the capture: a pinned one is overlaid on the others' },
  residual: { on: 'Traces', key: 'd', what: 'Show the difference from the mean of the repeats' },
  blur: { on: 'Traces', key: 'b', what: 'Show the blur edge' },
  spectrum: { on: 'Traces', key: 'x', what: 'Show the spectrum between the cursors, or of what is in view' },
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
  const newest = useStable(run)
  useEffect(() => {
    if (!active || !on) return undefined
    const listen = (event: KeyboardEvent) => {
      const key = event.key.length === 1 ? event.key.toLowerCase() : event.key
      if (key !== SHORTCUTS[id].key || event.ctrlKey || event.altKey || event.metaKey || event.repeat) return
      if (event.defaultPrevented || takesText(event.target)) return
      if (id !== 'help' && document.querySelector('[role=dialog],[role=alertdialog]') !== null) return
      event.preventDefault()
      newest()
    }
    addEventListener('keydown', listen)
    return () => removeEventListener('keydown', listen)
  }, [id, newest, active, on])
}
