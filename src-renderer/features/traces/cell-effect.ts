/** What one capture does to the mean of its cell. Numbers in the unit of the measure. */
import type { MeasureId } from '#shared/domain/measures.ts'
import type { MatrixEntry } from '#shared/domain/views.ts'
import { usableEntries } from '#shared/findings/matrix.ts'
import { meanUncertainty } from '#shared/signal/statistics.ts'

interface Mean {
  readonly n: number
  readonly mean: number | null
  /** Half width of the 95 % interval; null below five captures. */
  readonly u95: number | null
}

export interface CellEffect {
  readonly now: Mean
  readonly excluded: number
  /** The mean if this capture's decision were the other one; null when the capture has no value to give or take. */
  readonly otherwise: Mean | null
  /** `otherwise` less `now`; null when either mean is undefined. */
  readonly change: number | null
  readonly isExcluded: boolean
}

const meanOf = (entries: readonly MatrixEntry[], measure: MeasureId): Mean => {
  const { n, mean, u95 } = meanUncertainty(usableEntries(entries, measure).map(({ value }) => value))
  return { n, mean, u95 }
}

/** null when the capture is not in the cell (its verdict is not good, or it was measured under no such recipe). */
export function cellEffect(entries: readonly MatrixEntry[], measure: MeasureId, captureId: number): CellEffect | null {
  const own = entries.find((entry) => entry.captureId === captureId)
  if (own === undefined) return null
  const now = meanOf(entries, measure)
  const value = own.values[measure] ?? null
  const swapped = entries.map((entry) => (entry === own ? { ...entry, excluded: !entry.excluded } : entry))
  const otherwise = value === null ? null : meanOf(swapped, measure)
  return {
    now,
    excluded: entries.filter((entry) => entry.excluded).length,
    otherwise,
    change: otherwise === null || otherwise.mean === null || now.mean === null ? null : otherwise.mean - now.mean,
    isExcluded: own.excluded,
  }
}
