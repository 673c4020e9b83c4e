import type { Sweep } from '#shared/domain/capture.ts'
import type { MeasureId } from '#shared/domain/measures.ts'
import type { MatrixData, MatrixEntry } from '#shared/domain/views.ts'
import { meanUncertainty, median, MIN_REPEATS } from '#shared/signal/statistics.ts'

/** Statistics of one measure over the repeats of one transition. Every number is in the unit of the measure. */
export interface CellStatistics {
  readonly from: number
  readonly to: number
  /** Captures that entered: not excluded, and with a value. */
  readonly n: number
  readonly mean: number | null
  /** Sample standard deviation, n − 1; null below two captures. */
  readonly s: number | null
  /** t(95 %, n − 1) · s / √n: half width about the mean; null below five captures, as `note` says. */
  readonly u95: number | null
  readonly min: number | null
  readonly max: number | null
  readonly median: number | null
  /** Captures set aside by a review. */
  readonly excluded: number
  /** Captures that are not excluded but have no value (the measurement is undefined or not made yet). */
  readonly withoutValue: number
  /** Planned captures without an entry: not there, or not measured yet; null when the number planned is not given. */
  readonly missing: number | null
  /** Captures that entered and carry at least one flag. */
  readonly flagged: number
  /** Captures that entered with marks moved by a person. */
  readonly overridden: number
  /** Why the numbers are to be read with care; empty when nothing stands against them. */
  readonly note: string
}

/**
 * Repeats each transition of a sweep was planned to have; null for an imported one, which nobody planned: its plan only
 * repeats what its files were.
 */
export const repeatsExpected = ({ origin, plan }: Pick<Sweep, 'origin' | 'plan'>): number | null =>
  origin === 'imported' ? null : plan.repeats

/** What stands against the uncertainty of n repeats; empty from five on, and for none. */
export function repeatsNote(n: number): string {
  if (n >= MIN_REPEATS || n === 0) return ''
  return `No usable uncertainty: ${n} ${n === 1 ? 'capture' : 'captures'}, at least ${MIN_REPEATS} are needed.`
}

/** Entries of a cell that enter statistics of a measure, with their values. */
export function usableEntries(
  entries: readonly MatrixEntry[],
  measure: MeasureId,
): { entry: MatrixEntry; value: number }[] {
  return entries.flatMap((entry) => {
    const value = entry.values[measure]
    return entry.excluded || value === null || value === undefined ? [] : [{ entry, value }]
  })
}

/** All cells of a sweep's levels in reading order (from ascending, then to), also those without any capture. */
export function cellsOf(data: MatrixData): readonly { from: number; to: number; entries: readonly MatrixEntry[] }[] {
  const byKey = new Map(data.cells.map((cell) => [`${cell.from} ${cell.to}`, cell]))
  const levels = [...new Set([...data.levels, ...data.cells.flatMap((cell) => [cell.from, cell.to])])]
  levels.sort((a, b) => a - b)
  // Only levels of the plan promise a cell; others (imported pairs) appear where captures exist.
  const planned = new Set(data.levels)
  return levels.flatMap((from) =>
    levels.flatMap((to) => {
      const cell = byKey.get(`${from} ${to}`)
      if (cell !== undefined) return [cell]
      return from !== to && planned.has(from) && planned.has(to) ? [{ from, to, entries: [] }] : []
    }),
  )
}

/**
 * Statistics of one measure for each transition of a sweep, in reading order.
 * `repeats` is the plan's number of captures per transition; with it, missing captures are counted.
 */
export function cellStatistics(data: MatrixData, measure: MeasureId, repeats: number | null = null): CellStatistics[] {
  return cellsOf(data).map(({ from, to, entries }) => {
    const used = usableEntries(entries, measure)
    const values = used.map(({ value }) => value)
    const { n, mean, s, u95 } = meanUncertainty(values)
    const excluded = entries.filter((entry) => entry.excluded).length
    return {
      from,
      to,
      n,
      mean,
      s,
      u95,
      min: values.length === 0 ? null : values.reduce((a, b) => Math.min(a, b)),
      max: values.length === 0 ? null : values.reduce((a, b) => Math.max(a, b)),
      median: median(values),
      excluded,
      withoutValue: entries.length - excluded - used.length,
      missing: repeats === null ? null : Math.max(0, repeats - entries.length),
      flagged: used.filter(({ entry }) => entry.flagCount > 0).length,
      overridden: used.filter(({ entry }) => entry.overridden).length,
      note: repeatsNote(n),
    }
  })
}
