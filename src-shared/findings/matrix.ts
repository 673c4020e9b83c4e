import { byPair, pairKey } from '#shared/domain/level-pair.ts'
import type { Sweep } from '#shared/domain/capture.ts'
import type { MeasureId } from '#shared/domain/measures.ts'
import type { MatrixData, MatrixEntry } from '#shared/domain/views.ts'
import { meanSd, median } from '#shared/signal/statistics.ts'
import { cellBudget, FEWEST_DOF, type CellBudget, type StatedUncertainty } from './budget.ts'
import { spreads, type PooledAs } from './pooling.ts'
import { wilson95 } from './wilson.ts'

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
  return entries.flatMap((entry) => {
    const value = entry.values[measure]
    return entry.excluded || value === null || value === undefined ? [] : [{ entry, value }]
  })
}

/** All cells of a sweep's levels in reading order (from ascending, then to), also those without any capture. */
export function cellsOf(data: MatrixData): readonly { from: number; to: number; entries: readonly MatrixEntry[] }[] {
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

/** What the captures of a cell state; where no shared part is told apart the whole counts as shared. */
function statedBy(used: readonly { entry: MatrixEntry }[], measure: MeasureId): StatedUncertainty[] {
  return used.flatMap(({ entry }) => {
    const u = entry.uncertainties?.[measure]
    return u === undefined ? [] : [{ u, common: entry.common === undefined ? u : (entry.common[measure] ?? 0) }]
  })
}

const rms = (values: readonly number[]): number | null =>
  values.length === 0 ? null : Math.sqrt(values.reduce((sum, value) => sum + value * value, 0) / values.length)

/**
 * Statistics of one measure for each transition of a sweep, in reading order.
 * `repeats` is the plan's number of captures per transition; with it, missing captures are counted.
 */
export function cellStatistics(data: MatrixData, measure: MeasureId, repeats: number | null = null): CellStatistics[] {
  const cells = cellsOf(data).map((cell) => {
    const used = usableEntries(cell.entries, measure)
    return { ...cell, used, values: used.map(({ value }) => value), stated: statedBy(used, measure) }
  })
  if (measure === 'in_window') return cells.map((cell) => windowStatistics(cell, repeats))
  const spread = spreads(cells.map(({ values, stated }) => ({ values, u: rms(stated.map(({ u }) => u)) })))
  return cells.map((cell, i) => {
    const { values } = cell
    const { n, mean, s } = meanSd(values)
    const budget = cellBudget(n, spread[i] ?? null, cell.stated)
    const u95 = budget?.u95 ?? null
    return {
      ...counts(cell, repeats),
      n,
      mean,
      s,
      u95,
      budget,
      dof: u95 === null ? null : (budget?.dof ?? null),
      pooledAs: budget?.spread ?? null,
      min: values.length === 0 ? null : values.reduce((a, b) => Math.min(a, b)),
      max: values.length === 0 ? null : values.reduce((a, b) => Math.max(a, b)),
      median: median(values),
      undecided: 0,
      note: budgetNote(n, budget),
    }
  })
}

interface Cell {
  readonly from: number
  readonly to: number
  readonly entries: readonly MatrixEntry[]
  readonly used: readonly { readonly entry: MatrixEntry; readonly value: number }[]
}

function counts({ from, to, entries, used }: Cell, repeats: number | null) {
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
  const own = counts(cell, repeats)
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
  const captures = `${n} ${n === 1 ? 'capture' : 'captures'}`
  if (budget === null || budget.u95 === null) {
    const dof = Math.floor(budget?.dof === undefined || budget.dof === Infinity ? 0 : budget.dof)
    return `No usable uncertainty: ${captures} ${n === 1 ? 'has' : 'have'} ${n === 1 ? 0 : dof} degrees of freedom, at least ${FEWEST_DOF} are needed.`
  }
  if (budget.fromStated) return 'The captures state more than they scatter; what they state is taken.'
  if (budget.spread === null) return ''
  return `s pooled over the sweep${POOLED_WORDS[budget.spread]}, ${budget.repeatsDof} degrees of freedom.`
}
