/** The uncertainty of a transition's mean: what repeats average and what they do not (JCGM 100, Welch–Satterthwaite). */
import type { UncertaintyTerm } from '#shared/domain/result.ts'
import { remedyOf } from '#shared/measure/terms.ts'
import { studentT95 } from '#shared/signal/distributions.ts'
import { fUpper } from '#shared/signal/f-distribution.ts'
import { combineParts } from '#shared/signal/welch-satterthwaite.ts'
import type { Spread } from './pooling.ts'

/** What one capture states of its value, in the unit of the value. */
export interface StatedUncertainty {
  /** Standard uncertainty, everything together. */
  readonly u: number
  /** The part of it that all repeats share (detector, converter, level, ladder, time base, tail). */
  readonly common: number
}

export interface CellBudget {
  /** Standard uncertainty of the mean from what differs between repeats, and its degrees of freedom. */
  readonly repeats: number
  readonly repeatsDof: number
  /** Standard uncertainty of what does not average. */
  readonly common: number
  /** Combined standard uncertainty and its effective degrees of freedom. */
  readonly u: number
  readonly dof: number
  /** Half width of the 95 % interval; null below `FEWEST_DOF` degrees of freedom. */
  readonly u95: number | null
  /** How the repeats' part came about. */
  readonly spread: Spread['pooledAs']
  /** The captures state more than their scatter shows, so that theirs was taken. */
  readonly fromStated: boolean
}

/** Degrees of freedom below which an interval is not stated: s itself is then known to a third or worse. */
export const FEWEST_DOF = 4

/** Degrees of freedom of what a capture states: known to a tenth (JCGM 100 G.4.2). */
const STATED_DOF = 50

const excess = new Map<number, number>()

/**
 * Chance that captures whose scatter is what they state are taken to state more. Those cells hold the truth nearly always,
 * so that it is what the rule may add to the 95 % of all: 0.5 % at five captures (computed), 1.6 % if it were one in twenty.
 */
const EXCESS_CHANCE = 0.01

/** Ratio of variances, stated over seen, that scatter with `dof` degrees of freedom exceeds with that chance. */
function excessOf(dof: number): number {
  let limit = excess.get(dof)
  if (limit === undefined) {
    limit = fUpper(EXCESS_CHANCE, STATED_DOF, dof)
    excess.set(dof, limit)
  }
  return limit
}

/** Coverage factor; fractional degrees of freedom are rounded down (JCGM 100 G.4.1), so many are as good as endless. */
export const t95 = (dof: number): number => studentT95(dof > 1e4 ? Infinity : Math.max(1, Math.floor(dof + 1e-9)))

/** Sums of squares over the captures of a cell that state something, in the unit of the value squared. */
export interface StatedSquares {
  captures: number
  /** Everything together. */
  all: number
  /** What differs between repeats, and what they share. */
  own: number
  common: number
}

/** Adds what one capture states. */
export function addStated(squares: StatedSquares, u: number, common: number): void {
  squares.captures++
  squares.all += u * u
  squares.own += Math.sqrt(Math.max(0, u * u - common * common)) ** 2
  squares.common += common * common
}

/** `budgetOf` of a list of what the captures state. */
export function cellBudget(n: number, spread: Spread | null, stated: readonly StatedUncertainty[]): CellBudget | null {
  const squares: StatedSquares = { captures: 0, all: 0, own: 0, common: 0 }
  for (const { u, common } of stated) addStated(squares, u, common)
  return budgetOf(n, spread, squares)
}

/**
 * Budget of the mean of `n` captures whose scatter is `spread`. What differs from capture to capture (noise, free-phase
 * ripple) is in the scatter already and is not added again; only where the captures state significantly more than they
 * scatter is the stated part taken instead. What all captures share is added once, however many there are.
 * Null without scatter and without anything stated.
 */
export function budgetOf(n: number, spread: Spread | null, stated: StatedSquares): CellBudget | null {
  if (n === 0 || (spread === null && stated.captures === 0)) return null
  const captures = Math.max(1, stated.captures)
  const own2 = stated.own / captures
  const common = Math.sqrt(stated.common / captures)
  const s2 = spread === null ? null : spread.s ** 2
  const fromStated = own2 > 0 && (spread === null || s2 === null || own2 > s2 * excessOf(spread.dof))
  const repeats = Math.sqrt((fromStated ? own2 : (s2 ?? 0)) / n)
  const repeatsDof = fromStated ? STATED_DOF : (spread?.dof ?? 0)
  const { u, dof } = combineParts([
    ...(repeats > 0 ? [{ u: repeats, dof: repeatsDof }] : []),
    { u: common, dof: Infinity },
  ])
  return {
    repeats,
    repeatsDof,
    common,
    u,
    dof,
    // Without repeats to scatter nothing shows that what a capture states is all there is.
    u95: spread === null || (u === 0 ? repeatsDof : dof) < FEWEST_DOF ? null : u * t95(dof),
    spread: fromStated ? null : (spread?.pooledAs ?? null),
    fromStated,
  }
}

/** One line of a transition's budget. */
export interface BudgetTerm extends UncertaintyTerm {
  /** Share of the combined variance, percent. */
  readonly sharePct: number
  /** What makes it smaller; empty where that is not known. */
  readonly remedy: string
}

/**
 * What the uncertainty of a mean of `n` captures is made of, largest first: what to improve first. `causes` are those
 * that single captures name (root mean square over some of them): what captures share then stands cause by cause, and the
 * largest of what differs between them says what would make their scatter smaller. Without `causes` what they share is
 * one line.
 */
export function budgetTerms(budget: CellBudget, n: number, causes: readonly UncertaintyTerm[] = []): BudgetTerm[] {
  const named = causes.filter(({ averages, u }) => !averages && u > 0)
  const known = Math.hypot(...named.map(({ u }) => u))
  // Causes of some of many captures may come to more than all state on average; their proportions hold.
  const scale = known > budget.common ? budget.common / known : 1
  // Rounding apart, the causes make up the whole; what they leave over is not hidden.
  const rest = Math.sqrt(Math.max(0, budget.common ** 2 - known ** 2))
  const terms = [
    {
      name: REPEATS_WORDS[budget.fromStated ? 'stated' : (budget.spread ?? 'own')],
      u: budget.repeats,
      averages: true,
      remedy: remedyOfRepeats(budget.repeats * Math.sqrt(n), causes),
    },
    ...named.map(({ name, u, averages }) => ({ name, u: u * scale, averages, remedy: remedyOf(name) })),
    ...(rest > 0.01 * budget.common
      ? [
          {
            name: named.length === 0 ? 'Everything that repeats do not average' : 'Other',
            u: rest,
            averages: false,
            remedy: '',
          },
        ]
      : []),
  ]
  const total = budget.u ** 2
  return terms
    .filter(({ u }) => u > 0)
    .map((term) => ({ ...term, sharePct: total === 0 ? 0 : (100 * term.u ** 2) / total }))
    .sort((a, b) => b.u - a.u)
}

/** Four times the repeats halve their part; where one cause makes up half of the scatter's variance, less of it does too. */
function remedyOfRepeats(s: number, causes: readonly UncertaintyTerm[]): string {
  const [largest] = causes.filter(({ averages }) => averages).sort((a, b) => b.u - a.u)
  const remedy = largest !== undefined && 2 * largest.u ** 2 >= s * s ? remedyOf(largest.name) : ''
  return `More repeats: four times as many halve it.${remedy === '' ? '' : ` ${remedy}`}`
}

const REPEATS_WORDS = {
  own: 'Scatter of the repeats',
  size: 'Scatter of the repeats, pooled over the sweep',
  'share of the value': 'Scatter of the repeats, pooled in proportion to the value',
  'share of the stated uncertainty': 'Scatter of the repeats, pooled in proportion to what captures state',
  stated: 'What captures state of their own',
} as const
