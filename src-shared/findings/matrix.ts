import { byPair, pairKey } from '#shared/domain/level-pair.ts'
import type { Sweep } from '#shared/domain/capture.ts'
import type { MeasureId } from '#shared/domain/measures.ts'
import type { MatrixData, MatrixEntry } from '#shared/domain/views.ts'
import { meanSd, median } from '#shared/signal/statistics.ts'
import { addStated, budgetOf, cellBudget, FEWEST_DOF, type CellBudget, type StatedSquares } from './budget.ts'
import { spreads, type PooledAs } from './pooling.ts'
import { wilson95 } from './wilson.ts'
import { plural } from '#shared/domain/quantity-text.ts'

/** Statistics of one measure over the repeats of one transition. Every number is in the unit of the measure. */
export interface CellStatistics {
  readonly from: number
  readonly to: number
  /** Captures that entered: not excluded, and with a value (or, in the window, undecided). */
  readonly n: number
  /** Mean; of `in_window` the share of captures that are certainly in. */
  readonly mean: number | null
  /** Sample standard deviation of these captures, n − 1; null below two captures. */
  readonly s: number | null
  /**
   * Half width of the 95 % interval about the mean, from `budget`; null where that rests on fewer than four degrees of
   * freedom, as `note` says. For `in_window` the larger side of the Wilson interval, undecided captures on either side.
   */
  readonly u95: number | null
  /** What `u95` is made of (of `in_window` only what its scatter does to a mean over transitions); null without captures. */
  readonly budget: CellBudget | null
  /** Effective degrees of freedom of `u95`, Infinity where nothing limits them; null where there is no `u95`, and for `in_window`. */
  readonly dof: number | null
  /** What the spread was pooled over the sweep as; null where the transition's own counts. */
  readonly pooledAs: PooledAs | null
  readonly min: number | null
  readonly max: number | null
  readonly median: number | null
  /** Captures of which it cannot be said whether they are in the window; they are in `n`. 0 for other measures. */
  readonly undecided: number
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
  /** How the numbers came about and why they are to be read with care; empty when there is nothing to say. */
  readonly note: string
}

/**
 * Repeats each transition of a sweep was planned to have; null for an imported one, which nobody planned: its plan only
 * repeats what its files were.
 */
export const repeatsExpected = ({ origin, plan }: Pick<Sweep, 'origin' | 'plan'>): number | null =>
  origin === 'imported' ? null : plan.repeats

/** Entries of a cell that enter statistics of a measure, with their values. */
export function usableEntries(
  entries: readonly MatrixEntry[],
  measure: MeasureId,
): { entry: MatrixEntry; value: number }[] {
  const usable: { entry: MatrixEntry; value: number }[] = []
  for (const entry of entries) {
    const value = entry.values[measure]
    if (!entry.excluded && value !== null && value !== undefined) usable.push({ entry, value })
  }
  return usable
}

/** All cells of a sweep's levels in reading order (from ascending, then to), also those without any capture. */
export function cellsOf(data: MatrixData): MatrixData['cells'] {
  let cells = ordered.get(data)
  if (cells === undefined) {
    cells = orderedCells(data)
    ordered.set(data, cells)
  }
  return cells
}

/** Every figure of a sweep goes through the same cells. */
const ordered = new WeakMap<MatrixData, MatrixData['cells']>()

function orderedCells(data: MatrixData): MatrixData['cells'] {
  const byKey = byPair(data.cells)
  const levels = [...new Set([...data.levels, ...data.cells.flatMap((cell) => [cell.from, cell.to])])]
  levels.sort((a, b) => a - b)
  // Only levels of the plan promise a cell; others (imported pairs) appear where captures exist.
  const planned = new Set(data.levels)
  return levels.flatMap((from) =>
    levels.flatMap((to) => {
      const cell = byKey.get(pairKey({ from, to }))
      if (cell !== undefined) return [cell]
      return from !== to && planned.has(from) && planned.has(to) ? [{ from, to, entries: [] }] : []
    }),
  )
}

/** What means over transitions are drawn from. */
export type CellMean = Pick<
  CellStatistics,
  'from' | 'to' | 'n' | 'mean' | 's' | 'u95' | 'budget' | 'dof' | 'pooledAs' | 'note'
>

/** Mean and uncertainty of one measure for each transition of a sweep, in reading order; not for `in_window`. */
export const cellMeans = (data: MatrixData, measure: MeasureId): CellMean[] =>
  valuedCells(data, measure).map(({ mean }) => mean)

interface ValuedCell {
  readonly cell: Cell
  readonly values: readonly number[]
  readonly mean: CellMean
}

/** Headline, matrix and lists of one sweep read the same numbers. */
const valued = new WeakMap<MatrixData, Map<MeasureId, readonly ValuedCell[]>>()

function valuedCells(data: MatrixData, measure: MeasureId): readonly ValuedCell[] {
  const known = valued.get(data) ?? new Map<MeasureId, readonly ValuedCell[]>()
  valued.set(data, known)
  const cells = known.get(measure) ?? findValuedCells(data, measure)
  known.set(measure, cells)
  return cells
}

function findValuedCells(data: MatrixData, measure: MeasureId): ValuedCell[] {
  const cells = cellsOf(data).map((cell) => ({ cell, ...numbersOf(cell.entries, measure) }))
  const spread = spreads(cells)
  return cells.map(({ cell, values, stated }, i) => {
    const { from, to } = cell
    const { n, mean, s } = meanSd(values)
    const budget = budgetOf(n, spread[i] ?? null, stated)
    const u95 = budget?.u95 ?? null
    return {
      cell,
      values,
      mean: {
        from,
        to,
        n,
        mean,
        s,
        u95,
        budget,
        dof: u95 === null ? null : (budget?.dof ?? null),
        pooledAs: budget?.spread ?? null,
        note: budgetNote(n, budget),
      },
    }
  })
}

/**
 * The values of a cell and what its captures state of them, with the root mean square of that; where no shared part is
 * told apart the whole counts as shared. One pass: figures over 100,000 results are drawn while somebody waits.
 */
function numbersOf(
  entries: readonly MatrixEntry[],
  measure: MeasureId,
): { values: number[]; stated: StatedSquares; u: number | null } {
  const values: number[] = []
  const stated: StatedSquares = { captures: 0, all: 0, own: 0, common: 0 }
  for (const entry of entries) {
    const value = entry.values[measure]
    if (entry.excluded || value === null || value === undefined) continue
    values.push(value)
    const u = entry.uncertainties?.[measure]
    if (u !== undefined) addStated(stated, u, entry.common === undefined ? u : (entry.common[measure] ?? 0))
  }
  return { values, stated, u: stated.captures === 0 ? null : Math.sqrt(stated.all / stated.captures) }
}

/**
 * Statistics of one measure for each transition of a sweep, in reading order.
 * `repeats` is the plan's number of captures per transition; with it, missing captures are counted.
 */
export function cellStatistics(data: MatrixData, measure: MeasureId, repeats: number | null = null): CellStatistics[] {
  if (measure === 'in_window') return cellsOf(data).map((cell) => windowStatistics(cell, repeats))
  return valuedCells(data, measure).map(({ cell, values, mean }) => ({
    ...counts(cell, measure, repeats),
    ...mean,
    min: values.length === 0 ? null : values.reduce((a, b) => Math.min(a, b)),
    max: values.length === 0 ? null : values.reduce((a, b) => Math.max(a, b)),
    median: median(values),
    undecided: 0,
  }))
}

type Cell = MatrixData['cells'][number]

function counts({ from, to, entries }: Cell, measure: MeasureId, repeats: number | null) {
  const used = usableEntries(entries, measure)
  const excluded = entries.filter((entry) => entry.excluded).length
  return {
    from,
    to,
    excluded,
    withoutValue: entries.length - excluded - used.length,
    missing: repeats === null ? null : Math.max(0, repeats - entries.length),
    flagged: used.filter(({ entry }) => entry.flagCount > 0).length,
    overridden: used.filter(({ entry }) => entry.overridden).length,
  }
}

/** Captures in the window for certain, and those of which it cannot be said. */
export function windowCounts(entries: readonly MatrixEntry[]): { n: number; inside: number; undecided: number } {
  const decided = usableEntries(entries, 'in_window')
  const undecided = entries.filter((entry) => !entry.excluded && entry.undecided === true).length
  return {
    n: decided.length + undecided,
    inside: decided.filter(({ value }) => value >= 0.5).length,
    undecided,
  }
}

/** Half width of a share's interval about the part that is certain: the undecided may lie on either side. */
export function shareInterval(certain: number, undecided: number, n: number): readonly [low: number, high: number] {
  return [wilson95(certain, n)[0], wilson95(certain + undecided, n)[1]]
}

function windowStatistics(cell: Cell, repeats: number | null): CellStatistics {
  const { n, inside, undecided } = windowCounts(cell.entries)
  const share = n === 0 ? null : inside / n
  const [low, high] = n === 0 ? [0, 0] : shareInterval(inside, undecided, n)
  const own = counts(cell, 'in_window', repeats)
  const { s } = meanSd(Array.from({ length: n }, (_, i) => (i < inside ? 1 : 0)))
  return {
    ...own,
    withoutValue: own.withoutValue - undecided,
    n,
    mean: share,
    s,
    u95: share === null ? null : Math.max(share - low, high - share),
    budget: cellBudget(n, s === null ? null : { s, dof: n - 1, pooledAs: null }, []),
    dof: null,
    pooledAs: null,
    min: share === null ? null : inside === n ? 1 : 0,
    max: share === null ? null : inside > 0 ? 1 : 0,
    median: null,
    undecided,
    note: undecided === 0 ? '' : `${undecided} of ${n} undecided: the limit lies inside their uncertainty.`,
  }
}

const POOLED_WORDS: Readonly<Record<PooledAs, string>> = {
  size: '',
  'share of the value': ' in proportion to the value',
  'share of the stated uncertainty': ' in proportion to the stated uncertainty',
}

/** How the interval of a cell came about, or why there is none. */
function budgetNote(n: number, budget: CellBudget | null): string {
  if (n === 0) return ''
  const captures = plural(n, 'capture')
  if (budget === null || budget.u95 === null) {
    const dof = Math.floor(budget?.dof === undefined || budget.dof === Infinity ? 0 : budget.dof)
    return `No usable uncertainty: ${captures} ${n === 1 ? 'has' : 'have'} ${n === 1 ? 0 : dof} degrees of freedom, at least ${FEWEST_DOF} are needed.`
  }
  if (budget.fromStated) return 'The captures state more than they scatter; what they state is taken.'
  if (budget.spread === null) return ''
  return `s pooled over the sweep${POOLED_WORDS[budget.spread]}, ${budget.repeatsDof} degrees of freedom.`
}
