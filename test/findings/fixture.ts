import type { MeasureId } from '#shared/domain/measures.ts'
import type { MatrixData, MatrixEntry } from '#shared/domain/views.ts'

type Values = Partial<Record<MeasureId, number | null>>

export function entry(captureId: number, values: Values, more: Partial<MatrixEntry> = {}): MatrixEntry {
  return { captureId, repeat: 1, values, flagCount: 0, excluded: false, overridden: false, ...more }
}

/** A matrix out of `{ '0-51': [entries] }`. */
export function matrix(levels: readonly number[], cells: Record<string, MatrixEntry[]>, more = {}): MatrixData {
  return {
    sweepId: 1,
    recipeHash: 'aaaaaaaaaaaaaaaa',
    levels,
    unmeasured: 0,
    cells: Object.entries(cells).map(([key, entries]) => {
      const [from, to] = key.split('-').map(Number) as [number, number]
      return { from, to, entries: entries.map((e, i) => ({ ...e, repeat: i + 1 })) }
    }),
    ...more,
  }
}

let next = 1
export const durations = (...values: (number | null)[]): MatrixEntry[] =>
  values.map((value) => entry(next++, { transition_duration_s: value }))
