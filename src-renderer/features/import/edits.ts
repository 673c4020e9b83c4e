/** The list of chosen files with its edits, each of which can be undone and redone. */
import { NOTHING_BY_HAND, type ByHand, type Entry, type NameRule } from './desk-model.ts'

export interface DeskList {
  readonly entries: readonly Entry[]
  readonly rule: NameRule
}
export const EMPTY_LIST: DeskList = { entries: [], rule: { kind: 'plain', text: '{from}-{to}_r{repeat}' } }

interface Step {
  readonly list: DeskList
  /** What the edit after this list did. */
  readonly what: string
  /** Edits with the same sign run into one, as letters typed into one field do. */
  readonly sign: string
}

export interface History {
  readonly list: DeskList
  readonly past: readonly Step[]
  readonly future: readonly Step[]
}
export const NO_HISTORY: History = { list: EMPTY_LIST, past: [], future: [] }

const STEPS_KEPT = 100

export function edit(history: History, list: DeskList, what: string, sign = ''): History {
  const last = history.past.at(-1)
  const merges = sign !== '' && last?.sign === sign && history.future.length === 0
  const past = merges ? history.past : [...history.past, { list: history.list, what, sign }].slice(-STEPS_KEPT)
  return { list, past, future: [] }
}

export function undo(history: History): History {
  const step = history.past.at(-1)
  if (step === undefined) return history
  const back = { list: history.list, what: step.what, sign: '' }
  return { list: step.list, past: history.past.slice(0, -1), future: [...history.future, back] }
}

export function redo(history: History): History {
  const step = history.future.at(-1)
  if (step === undefined) return history
  const again = { list: history.list, what: step.what, sign: '' }
  return { list: step.list, past: [...history.past, again], future: history.future.slice(0, -1) }
}

/** New entries after those that are there. */
export function added(list: DeskList, files: readonly Pick<Entry, 'key' | 'name' | 'bytes'>[]): DeskList {
  return { ...list, entries: [...list.entries, ...files.map((file) => ({ ...file, hand: NOTHING_BY_HAND }))] }
}

export function removed(list: DeskList, keys: ReadonlySet<number>): DeskList {
  return { ...list, entries: list.entries.filter(({ key }) => !keys.has(key)) }
}

export function changed(
  list: DeskList,
  keys: ReadonlySet<number>,
  change: (entry: Entry) => Partial<ByHand>,
): DeskList {
  return {
    ...list,
    entries: list.entries.map((entry) =>
      keys.has(entry.key) ? { ...entry, hand: { ...entry.hand, ...change(entry) } } : entry,
    ),
  }
}
