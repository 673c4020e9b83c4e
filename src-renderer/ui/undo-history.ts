/** A value with the way it came about: every edit can be undone and redone. */
interface UndoStep<T, Note> {
  /** The value before the edit (in `past`) or after it (in `future`). */
  readonly value: T
  /** What the edit did. */
  readonly note: Note
}

export interface UndoHistory<T, Note> {
  readonly present: T
  /** Oldest first. */
  readonly past: readonly UndoStep<T, Note>[]
  /** The edit undone last at the end. */
  readonly future: readonly UndoStep<T, Note>[]
}

/** Steps kept; the oldest give way. */
const UNDO_LIMIT = 200

export const beginHistory = <T>(present: T): UndoHistory<T, never> => ({ present, past: [], future: [] })

/** `merge` joins the edit to the one before, as letters typed into one field or one drag of a slider are one edit; the note of the newest stands. */
export function recordEdit<T, Note>(
  history: UndoHistory<T, Note>,
  value: T,
  note: Note,
  merge = false,
): UndoHistory<T, Note> {
  const last = history.past.at(-1)
  const joined = merge && history.future.length === 0 && last !== undefined
  const before = joined ? history.past.slice(0, -1) : history.past
  const past = [...before, { value: joined ? last.value : history.present, note }].slice(-UNDO_LIMIT)
  return { present: value, past, future: [] }
}

export function undoEdit<T, Note>(history: UndoHistory<T, Note>): UndoHistory<T, Note> {
  const step = history.past.at(-1)
  if (step === undefined) return history
  const future = [...history.future, { value: history.present, note: step.note }]
  return { present: step.value, past: history.past.slice(0, -1), future }
}

export function redoEdit<T, Note>(history: UndoHistory<T, Note>): UndoHistory<T, Note> {
  const step = history.future.at(-1)
  if (step === undefined) return history
  const past = [...history.past, { value: history.present, note: step.note }]
  return { present: step.value, past, future: history.future.slice(0, -1) }
}
