import { MEASURE_IDS, type MeasureId } from '#shared/domain/measures.ts'
import { type Result, UNDECIDED } from '#shared/domain/result.ts'
import type { MatrixData, MatrixEntry } from '#shared/domain/views.ts'

/** A capture that counts, with its result under the recipe. */
export interface CountedResult {
  readonly captureId: number
  readonly from: number
  readonly to: number
  readonly repeat: number
  readonly excluded: boolean
  readonly overridden: boolean
  /** Its own flags and those of the comparison with its sweep. */
  readonly flagCount: number
  readonly result: Result
}

/** The matrix of a sweep as the archive tells it, from the results themselves: cells and entries in the same order. */
export function matrixOfResults(
  sweep: { readonly sweepId: number; readonly recipeHash: string; readonly levels: readonly number[] },
  captures: readonly CountedResult[],
): MatrixData {
  const sorted = [...captures].sort(
    (a, b) => a.from - b.from || a.to - b.to || a.repeat - b.repeat || a.captureId - b.captureId,
  )
  const cells: { from: number; to: number; entries: MatrixEntry[] }[] = []
  for (const capture of sorted) {
    const { from, to } = capture
    let cell = cells.at(-1)
    if (cell === undefined || cell.from !== from || cell.to !== to) {
      cell = { from, to, entries: [] }
      cells.push(cell)
    }
    cell.entries.push(entryOf(capture))
  }
  const levels = new Set([...sweep.levels, ...sorted.flatMap(({ from, to }) => [from, to])])
  return { ...sweep, levels: [...levels].sort((a, b) => a - b), cells, unmeasured: 0 }
}

function entryOf({ captureId, repeat, excluded, overridden, flagCount, result }: CountedResult): MatrixEntry {
  const { values, uncertainties, common = {}, reasons } = result
  const told = (numbers: Readonly<Partial<Record<MeasureId, number>>>): Partial<Record<MeasureId, number>> =>
    Object.fromEntries(MEASURE_IDS.flatMap((id) => (numbers[id] === undefined ? [] : [[id, numbers[id]]])))
  return {
    captureId,
    repeat,
    values,
    uncertainties: told(uncertainties),
    ...(Object.keys(common).length === 0 ? {} : { common: told(common) }),
    undecided: values.in_window === null && reasons.in_window === UNDECIDED,
    flagCount,
    excluded,
    overridden,
  }
}
