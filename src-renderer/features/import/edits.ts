/** The list of chosen files with its edits, each of which can be undone and redone. */
import { beginHistory, recordEdit, type UndoHistory } from '../../ui/undo-history.ts'
import { NOTHING_BY_HAND, type ByHand, type Entry, type NameRule } from './desk-model.ts'

export interface DeskList {
  readonly entries: readonly Entry[]
  readonly rule: NameRule
}
const EMPTY_LIST: DeskList = { entries: [], rule: { kind: 'plain', text: '{from}-{to}_r{repeat}' } }

/** What an edit did; edits with the same sign run into one, as letters typed into one field do. */
interface Edit {
  readonly what: string
  readonly sign: string
}

export type History = UndoHistory<DeskList, Edit>
export const NO_HISTORY: History = beginHistory(EMPTY_LIST)

export function edit(history: History, list: DeskList, what: string, sign = ''): History {
  return recordEdit(history, list, { what, sign }, sign !== '' && history.past.at(-1)?.note.sign === sign)
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
