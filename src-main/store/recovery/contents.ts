/** Tells rows apart that the kinds of their values do not: by what a text of theirs holds. */
import type { Row } from './cells.ts'

/** Tables of which another has rows of the same kinds; `test/store/shapes.test.ts` finds every such pair. */
const HOLDS: Readonly<Record<string, (row: Row) => boolean>> = {
  // Rows of `analysis` name a recipe and an algorithm.
  judgement: (row) => hasKeys(row['chosen'], ['limits', 'weighting']),
  // A note may well be "60" or "[]", which is JSON too.
  latency_run: (row) => isLatencyPlan(row['plan']),
  note: (row) => !isLatencyPlan(row['text']),
}

/** Whether a row that fits the shape of a table can be one of its rows. */
export function isRowOf(table: string, row: Row): boolean {
  return HOLDS[table]?.(row) ?? true
}

const isLatencyPlan = (value: Row[string] | undefined): boolean => hasKeys(value, ['refreshHz', 'events', 'seed'])

function hasKeys(value: Row[string] | undefined, keys: readonly string[]): boolean {
  if (typeof value !== 'string' || !value.startsWith('{')) return false
  try {
    const read: unknown = JSON.parse(value)
    return typeof read === 'object' && read !== null && keys.every((key) => Object.hasOwn(read, key))
  } catch {
    return false
  }
}
