import { MEASURES, type MeasureId } from '#shared/domain/measures.ts'
import type { Recipe } from '#shared/domain/recipe.ts'
import type { MatrixData, MatrixEntry } from '#shared/domain/views.ts'
import { pooledVariance } from '#shared/signal/homogeneity.ts'
import { median, MIN_REPEATS } from '#shared/signal/statistics.ts'
import { combineParts, type Part } from '#shared/signal/welch-satterthwaite.ts'
import { FEWEST_DOF, t95 } from './budget.ts'
import { type CellMean, cellMeans, cellsOf, cellStatistics, shareInterval, type CellStatistics } from './matrix.ts'
import { plural } from '#shared/domain/quantity-text.ts'

/** Measures a summary reads besides the one it is about; ask the store for these. */
export const SUMMARY_MEASURES = ['transition_duration_s', 'in_window', 'overshoot_pct'] as const satisfies MeasureId[]

/** One number of a summary with what it rests on. */
export interface SummaryValue {
  readonly value: number | null
  /** Transitions that entered. */
  readonly cells: number
  /** Captures that entered. */
  readonly n: number
  /** Standard uncertainty from the repeats; null when there are none. */
  readonly u: number | null
  /** Effective degrees of freedom of `u95`. */
  readonly dof: number | null
  /** Standard uncertainty of what repeats do not average; it moves all transitions alike. */
  readonly common: number
  /** Transitions whose spread is pooled over the sweep. */
  readonly pooled: number
  /**
   * Half width of the 95 % interval, `u` and `common` together; null below four degrees of freedom. It says how well the
   * value is known, not how much transitions differ from one another.
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

/**
 * Share of captures that fulfil a condition for certain, in percent. `n` counts yes, no and undecided; the interval is
 * Wilson's, from the share of the certain ones to that with the undecided.
 */
export interface ShareValue extends SummaryValue {
  /** Captures that fulfil it for certain. */
  readonly count: number
  /** Captures of which it cannot be said. */
  readonly undecided: number
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

/** Spread of the repeats that a cell without its own borrows: the mean variance of the others. */
function borrowed(cells: readonly CellMean[]): Part | null {
  const pool = pooledVariance(cells.flatMap(({ s, n }) => (s === null ? [] : [{ s2: s ** 2, dof: n - 1 }])))
  return pool === null ? null : { u: Math.sqrt(pool.s2), dof: pool.dof }
}

interface Combined extends Part {
  readonly common: number
  /** Transitions whose spread is pooled over the sweep. */
  readonly pooled: number
}

/**
 * Uncertainty of Σ w·x̄ with equal weights: from the repeats by the formula of Welch and Satterthwaite (JCGM 100 G.4.1),
 * pooled spreads together as the one estimate they are; what does not average moves all transitions alike and adds up.
 * Null when no transition has repeats.
 */
function combine(all: readonly CellMean[], chosen: readonly CellMean[], weight: number): Combined | null {
  const spare = borrowed(all)
  const own: Part[] = []
  let pooled = 0
  let pooledU2 = 0
  let pooledDof = Infinity
  let common = 0
  for (const cell of chosen) {
    const { budget, n } = cell
    common += weight * (budget?.common ?? 0)
    if (budget !== null && budget.spread !== null) {
      pooled++
      pooledU2 += (weight * budget.repeats) ** 2
      pooledDof = budget.repeatsDof
    } else if (budget !== null && budget.repeatsDof > 0 && (cell.s !== null || budget.fromStated))
      own.push({ u: weight * budget.repeats, dof: budget.repeatsDof })
    else if (spare !== null) own.push({ u: (weight * spare.u) / Math.sqrt(n), dof: spare.dof })
    else return null
  }
  const parts = pooled === 0 ? own : [...own, { u: Math.sqrt(pooledU2), dof: pooledDof }]
  const { u, dof } = combineParts(parts)
  // Repeats that do not scatter at all are still no more than they are.
  const counted = u === 0 ? parts.reduce((sum, part) => sum + part.dof, 0) : dof
  return { u, dof: counted, common, pooled }
}

type Interval = Pick<SummaryValue, 'u' | 'dof' | 'common' | 'pooled' | 'u95' | 'note'>

/** The interval of a combination, or why there is none. */
function intervalOf(cells: readonly CellMean[], found: Combined | null): Interval {
  if (found === null)
    return {
      u: null,
      dof: null,
      common: 0,
      pooled: 0,
      u95: null,
      note: 'No usable uncertainty: no transition has repeats.',
    }
  const { u, common, pooled } = found
  const together = u === 0 ? { u: common, dof: found.dof } : combineParts([found, { u: common, dof: Infinity }])
  const enough = together.dof >= FEWEST_DOF
  const notes: string[] = []
  if (!enough)
    notes.push(`No usable uncertainty: it rests on ${Math.floor(together.dof + 1e-9)} degrees of freedom only.`)
  const single = cells.filter((cell) => cell.s === null).length
  if (single > 0) notes.push(`${plural(single, 'transition has', 'transitions have')} one capture only.`)
  if (pooled > 0) notes.push(`s pooled in ${pooled} of ${cells.length} transitions.`)
  return {
    u,
    dof: together.dof,
    common,
    pooled,
    u95: enough ? t95(together.dof) * together.u : null,
    note: notes.join(' '),
  }
}

function valued(cells: readonly CellMean[]): (CellMean & { mean: number })[] {
  return cells.filter((cell): cell is CellMean & { mean: number } => cell.mean !== null)
}

const NOTHING = { u: null, dof: null, common: 0, pooled: 0, u95: null } as const

/** Mean of the transitions' means: every transition weighs the same, however many captures it has. */
export function meanOf(all: readonly CellMean[]): SummaryValue {
  const cells = valued(all)
  const n = cells.reduce((sum, cell) => sum + cell.n, 0)
  if (cells.length === 0) return { ...NOTHING, value: null, cells: 0, n, note: 'No transition has a value.' }
  const value = cells.reduce((sum, cell) => sum + cell.mean, 0) / cells.length
  return { value, cells: cells.length, n, ...intervalOf(cells, combine(cells, cells, 1 / cells.length)) }
}

/** Median of the transitions' means, with the uncertainty of the one or two transitions it is read from. */
function medianValue(all: readonly CellMean[]): SummaryValue {
  const cells = valued(all).sort((a, b) => a.mean - b.mean)
  const whole = meanOf(cells)
  if (cells.length === 0) return whole
  const half = cells.length >> 1
  const middle = cells.slice(cells.length % 2 === 1 ? half : half - 1, half + 1)
  return {
    value: median(cells.map((cell) => cell.mean)),
    cells: cells.length,
    n: whole.n,
    ...intervalOf(middle, combine(cells, middle, 1 / middle.length)),
  }
}

/** How bad a value is: what is to be small counts upward, what is to be large downward, the rest by magnitude. */
function badness(measure: MeasureId, value: number): number {
  const { better } = MEASURES[measure]
  return better === 'low' ? value : better === 'high' ? -value : Math.abs(value)
}

/** The transition with the worst mean; of equals, the first in reading order. */
export function worstOf(all: readonly CellMean[], measure: MeasureId): CellValue {
  const cells = valued(all)
  const first = cells[0]
  if (first === undefined) return { ...meanOf(cells), from: null, to: null }
  const worst = cells.reduce((a, b) => (badness(measure, b.mean) > badness(measure, a.mean) ? b : a), first)
  const { budget } = worst
  return {
    value: worst.mean,
    cells: 1,
    n: worst.n,
    u: budget?.repeats ?? null,
    // Told also where they are too few for the interval shown; one capture alone has none.
    dof: worst.s === null ? null : (budget?.dof ?? null),
    common: budget?.common ?? 0,
    pooled: worst.pooledAs === null ? 0 : 1,
    u95: worst.u95,
    note: worst.note,
    from: worst.from,
    to: worst.to,
  }
}

/** Whether one capture fulfils a condition. */
type Decision = 'yes' | 'no' | 'undecided'

function shareOf(
  data: MatrixData,
  measure: MeasureId,
  decide: (entry: MatrixEntry, value: number | null) => Decision | null,
): ShareValue {
  let [n, count, undecided, filled] = [0, 0, 0, 0]
  for (const { entries } of cellsOf(data)) {
    const before = n
    for (const entry of entries) {
      const decision = entry.excluded ? null : decide(entry, entry.values[measure] ?? null)
      if (decision === null) continue
      n++
      if (decision === 'yes') count++
      else if (decision === 'undecided') undecided++
    }
    if (n > before) filled++
  }
  const shared = { ...NOTHING, n, count, undecided, cells: filled }
  if (n === 0)
    return {
      ...shared,
      value: null,
      lowPct: null,
      highPct: null,
      note: `No capture has a value of ${MEASURES[measure].label.toLowerCase()}.`,
    }
  const [low, high] = shareInterval(count, undecided, n)
  const value = (100 * count) / n
  const notes: string[] = []
  if (n < MIN_REPEATS) notes.push(`Only ${plural(n, 'capture')}.`)
  if (undecided > 0) notes.push(`${undecided} undecided: the limit lies inside their uncertainty.`)
  return {
    ...shared,
    value,
    u95: Math.max(value - 100 * low, 100 * high - value),
    lowPct: 100 * low,
    highPct: 100 * high,
    note: notes.join(' '),
  }
}

/** Means over the transitions to a higher and to a lower level, and over those with both at or under the dark code. */
export function meansByDirection(
  cells: readonly CellMean[],
  darkCode: number,
): Pick<SweepSummary, 'riseMean' | 'fallMean' | 'darkMean'> {
  return {
    riseMean: meanOf(cells.filter((cell) => cell.to > cell.from)),
    fallMean: meanOf(cells.filter((cell) => cell.to < cell.from)),
    darkMean: meanOf(cells.filter((cell) => cell.from <= darkCode && cell.to <= darkCode)),
  }
}

const inWindow = (entry: MatrixEntry, value: number | null): Decision | null =>
  value !== null ? (value >= 0.5 ? 'yes' : 'no') : entry.undecided === true ? 'undecided' : null

/** Share of a sweep's captures that are in the window for certain. */
export const inWindowShareOf = (data: MatrixData): ShareValue => shareOf(data, 'in_window', inWindow)

/** Over the limit for certain, under it for certain, or neither within the value's own 95 % interval (k = 2). */
function overLimit(limitPct: number): (entry: MatrixEntry, value: number | null) => Decision | null {
  return (entry, value) => {
    if (value === null) return null
    const reach = 2 * (entry.uncertainties?.overshoot_pct ?? 0)
    if (value - reach > limitPct) return 'yes'
    return value + reach <= limitPct ? 'no' : 'undecided'
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
    ...meansByDirection(cells, darkCode),
    inWindowShare: inWindowShareOf(data),
    overshootMean: meanOf(cellMeans(data, 'overshoot_pct')),
    overshootOverLimitShare: shareOf(data, 'overshoot_pct', overLimit(overshootLimitPct)),
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
