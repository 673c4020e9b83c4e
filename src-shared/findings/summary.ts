import { MEASURES, type MeasureId } from '#shared/domain/measures.ts'
import type { Recipe } from '#shared/domain/recipe.ts'
import type { MatrixData } from '#shared/domain/views.ts'
import { studentT95 } from '#shared/signal/distributions.ts'
import { median, MIN_REPEATS } from '#shared/signal/statistics.ts'
import { cellsOf, cellStatistics, usableEntries, type CellStatistics } from './matrix.ts'

/** Measures a summary reads besides the one it is about; ask the store for these. */
export const SUMMARY_MEASURES = ['transition_duration_s', 'in_window', 'overshoot_pct'] as const satisfies MeasureId[]

/** One number of a summary with what it rests on. */
export interface SummaryValue {
  readonly value: number | null
  /** Transitions that entered. */
  readonly cells: number
  /** Captures that entered. */
  readonly n: number
  /**
   * Half width of the 95 % interval, from the repeats; null when they give fewer than four degrees of freedom. It says
   * how well the sweep repeats, not how much transitions differ from one another.
   */
  readonly u95: number | null
  /** Why value or uncertainty are missing or weak; empty when nothing stands against them. */
  readonly note: string
}

/** The transition a worst or median value belongs to. */
export interface CellValue extends SummaryValue {
  readonly from: number | null
  readonly to: number | null
}

/** Share of captures that fulfil a condition, in percent, with the Wilson score interval. */
export interface ShareValue extends SummaryValue {
  /** Captures that fulfil it. */
  readonly count: number
  readonly lowPct: number | null
  readonly highPct: number | null
}

export interface SweepSummary {
  readonly measure: MeasureId
  readonly mean: SummaryValue
  readonly median: SummaryValue
  readonly worst: CellValue
  /** Mean over transitions to a higher, and to a lower level. */
  readonly riseMean: SummaryValue
  readonly fallMean: SummaryValue
  /** Mean over transitions with both levels at or under the recipe's dark code. */
  readonly darkMean: SummaryValue
  readonly inWindowShare: ShareValue
  readonly overshootMean: SummaryValue
  /** Share of captures whose overshoot is more than the recipe's limit. */
  readonly overshootOverLimitShare: ShareValue
  readonly darkCode: number
  readonly overshootLimitPct: number
  readonly counts: {
    readonly transitions: number
    /** Transitions without a value of the measure. */
    readonly emptyTransitions: number
    readonly captures: number
    readonly excluded: number
    /** Captures that entered nothing because the measure is undefined for them. */
    readonly withoutValue: number
    readonly flagged: number
    readonly overridden: number
    /** Good captures without a result under the recipe yet. */
    readonly unmeasured: number
    /** Planned captures that are not there; null when the plan's repeats are not given. */
    readonly missing: number | null
  }
}

interface Variance {
  /** Variance of the cell's mean. */
  readonly u2: number
  readonly dof: number
}

/**
 * Variance of each cell's mean. A cell with one capture borrows the pooled variance of the cells with repeats;
 * null when no cell has repeats.
 */
function variances(cells: readonly CellStatistics[]): Variance[] | null {
  const repeated = cells.filter((cell) => cell.s !== null)
  const dof = repeated.reduce((sum, cell) => sum + cell.n - 1, 0)
  if (dof === 0) return null
  const pooled = repeated.reduce((sum, cell) => sum + (cell.n - 1) * (cell.s as number) ** 2, 0) / dof
  return cells.map((cell) =>
    cell.s === null ? { u2: pooled / cell.n, dof } : { u2: cell.s ** 2 / cell.n, dof: cell.n - 1 },
  )
}

/**
 * 95 % half width of Σ w·x̄ by the Welch–Satterthwaite formula (JCGM 100 G.4.1), degrees of freedom rounded down;
 * null when these are fewer than a cell with the fewest usable repeats has.
 */
function combine(parts: readonly Variance[], weight: number): { u95: number | null; dof: number } {
  const u2 = parts.reduce((sum, part) => sum + weight ** 2 * part.u2, 0)
  if (u2 === 0) {
    const dof = parts.reduce((sum, part) => sum + part.dof, 0)
    return { u95: dof < MIN_REPEATS - 1 ? null : 0, dof }
  }
  const denominator = parts.reduce((sum, part) => sum + (weight ** 2 * part.u2) ** 2 / part.dof, 0)
  const dof = Math.max(1, Math.floor(u2 ** 2 / denominator + 1e-9))
  return { u95: dof < MIN_REPEATS - 1 ? null : studentT95(dof) * Math.sqrt(u2), dof }
}

function uncertaintyNote(cells: readonly CellStatistics[], dof: number | null): string {
  if (dof === null) return 'No usable uncertainty: no transition has repeats.'
  const notes: string[] = []
  if (dof < MIN_REPEATS - 1) notes.push(`No usable uncertainty: it rests on ${dof} degrees of freedom only.`)
  const single = cells.filter((cell) => cell.s === null).length
  if (single > 0) notes.push(`${single} ${single === 1 ? 'transition has' : 'transitions have'} one capture only.`)
  return notes.join(' ')
}

function valued(cells: readonly CellStatistics[]): (CellStatistics & { mean: number })[] {
  return cells.filter((cell): cell is CellStatistics & { mean: number } => cell.mean !== null)
}

/** Mean of the transitions' means: every transition weighs the same, however many captures it has. */
function meanOf(all: readonly CellStatistics[]): SummaryValue {
  const cells = valued(all)
  const n = cells.reduce((sum, cell) => sum + cell.n, 0)
  if (cells.length === 0) return { value: null, cells: 0, n, u95: null, note: 'No transition has a value.' }
  const value = cells.reduce((sum, cell) => sum + cell.mean, 0) / cells.length
  const parts = variances(cells)
  const combined = parts === null ? null : combine(parts, 1 / cells.length)
  return {
    value,
    cells: cells.length,
    n,
    u95: combined?.u95 ?? null,
    note: uncertaintyNote(cells, combined?.dof ?? null),
  }
}

/** Median of the transitions' means, with the uncertainty of the one or two transitions it is read from. */
function medianValue(all: readonly CellStatistics[]): SummaryValue {
  const cells = valued(all).sort((a, b) => a.mean - b.mean)
  const whole = meanOf(cells)
  if (cells.length === 0) return whole
  const half = cells.length >> 1
  const middle = cells.length % 2 === 1 ? [half] : [half - 1, half]
  const parts = variances(cells)?.filter((_, i) => middle.includes(i)) ?? null
  const combined = parts === null ? null : combine(parts, 1 / middle.length)
  return {
    value: median(cells.map((cell) => cell.mean)),
    cells: cells.length,
    n: whole.n,
    u95: combined?.u95 ?? null,
    note: uncertaintyNote(
      middle.map((i) => cells[i] as CellStatistics),
      combined?.dof ?? null,
    ),
  }
}

/** How bad a value is: what is to be small counts upward, what is to be large downward, the rest by magnitude. */
function badness(measure: MeasureId, value: number): number {
  const { better } = MEASURES[measure]
  return better === 'low' ? value : better === 'high' ? -value : Math.abs(value)
}

/** The transition with the worst mean; of equals, the first in reading order. */
function worstOf(all: readonly CellStatistics[], measure: MeasureId): CellValue {
  const cells = valued(all)
  const first = cells[0]
  if (first === undefined) return { ...meanOf(cells), from: null, to: null }
  const worst = cells.reduce((a, b) => (badness(measure, b.mean) > badness(measure, a.mean) ? b : a), first)
  return {
    value: worst.mean,
    cells: 1,
    n: worst.n,
    u95: worst.u95,
    note: worst.note,
    from: worst.from,
    to: worst.to,
  }
}

/** Two-sided 95 % point of the normal distribution. */
const Z95 = 1.959963984540054

/** Wilson score interval of k of n, as shares 0–1; honest also when k is 0 or n. (E. B. Wilson 1927, from memory.) */
export function wilson95(k: number, n: number): readonly [number, number] {
  const z2 = Z95 ** 2
  const centre = (k + z2 / 2) / (n + z2)
  const half = (Z95 / (n + z2)) * Math.sqrt((k * (n - k)) / n + z2 / 4)
  return [k === 0 ? 0 : centre - half, k === n ? 1 : centre + half]
}

function shareOf(data: MatrixData, measure: MeasureId, fulfils: (value: number) => boolean): ShareValue {
  const cells = cellsOf(data).map((cell) => usableEntries(cell.entries, measure).map(({ value }) => value))
  const values = cells.flat()
  const n = values.length
  const count = values.filter(fulfils).length
  const filled = cells.filter((cell) => cell.length > 0).length
  if (n === 0)
    return {
      value: null,
      cells: 0,
      n,
      u95: null,
      count,
      lowPct: null,
      highPct: null,
      note: `No capture has a value of ${MEASURES[measure].label.toLowerCase()}.`,
    }
  const [low, high] = wilson95(count, n)
  const value = (100 * count) / n
  return {
    value,
    cells: filled,
    n,
    u95: Math.max(value - 100 * low, 100 * high - value),
    count,
    lowPct: 100 * low,
    highPct: 100 * high,
    note: n < MIN_REPEATS ? `Only ${n} ${n === 1 ? 'capture' : 'captures'}.` : '',
  }
}

/**
 * Summary of a sweep under one recipe. `data` must hold `measure` and SUMMARY_MEASURES. Means weigh every transition
 * the same; shares are over captures. Undefined (null with a note) where no capture has a value.
 */
export function summarise(
  data: MatrixData,
  recipe: Pick<Recipe, 'darkCode' | 'overshootLimitPct'>,
  options: { readonly measure?: MeasureId; readonly repeats?: number | null } = {},
): SweepSummary {
  const measure = options.measure ?? 'transition_duration_s'
  const cells = cellStatistics(data, measure, options.repeats ?? null)
  const total = (pick: (cell: CellStatistics) => number): number => cells.reduce((sum, cell) => sum + pick(cell), 0)
  const { darkCode, overshootLimitPct } = recipe
  return {
    measure,
    mean: meanOf(cells),
    median: medianValue(cells),
    worst: worstOf(cells, measure),
    riseMean: meanOf(cells.filter((cell) => cell.to > cell.from)),
    fallMean: meanOf(cells.filter((cell) => cell.to < cell.from)),
    darkMean: meanOf(cells.filter((cell) => cell.from <= darkCode && cell.to <= darkCode)),
    inWindowShare: shareOf(data, 'in_window', (value) => value >= 0.5),
    overshootMean: meanOf(cellStatistics(data, 'overshoot_pct')),
    overshootOverLimitShare: shareOf(data, 'overshoot_pct', (value) => value > overshootLimitPct),
    darkCode,
    overshootLimitPct,
    counts: {
      transitions: cells.length,
      emptyTransitions: cells.filter((cell) => cell.n === 0).length,
      captures: data.cells.reduce((sum, cell) => sum + cell.entries.length, 0),
      excluded: total((cell) => cell.excluded),
      withoutValue: total((cell) => cell.withoutValue),
      flagged: total((cell) => cell.flagged),
      overridden: total((cell) => cell.overridden),
      unmeasured: data.unmeasured,
      missing:
        (options.repeats ?? null) === null ? null : Math.max(0, total((cell) => cell.missing ?? 0) - data.unmeasured),
    },
  }
}
