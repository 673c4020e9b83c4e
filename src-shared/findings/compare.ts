import { byPair, pairKey } from '#shared/domain/level-pair.ts'
import { AppError } from '#shared/domain/errors.ts'
import type { MeasureId } from '#shared/domain/measures.ts'
import type { Recipe } from '#shared/domain/recipe.ts'
import type { MatrixData } from '#shared/domain/views.ts'
import { mean, meanUncertainty, MIN_REPEATS } from '#shared/signal/statistics.ts'
import { cellsOf, usableEntries } from './matrix.ts'
import { summarise, type SummaryValue, type SweepSummary } from './summary.ts'
import { plural } from '#shared/domain/quantity-text.ts'

/** One transition under two recipes. Differences are b − a, taken capture by capture. */
export interface CellComparison {
  readonly from: number
  readonly to: number
  /** Means of the captures that have a value under both recipes. */
  readonly a: number | null
  readonly b: number | null
  /** Captures with a value under both. */
  readonly n: number
  readonly difference: number | null
  /** Difference in percent of a; null when a is 0 or there is none. */
  readonly differencePct: number | null
  /** Half width of the 95 % interval of the mean paired difference; null below five pairs. */
  readonly u95: number | null
  /** Captures with a value under one of the recipes only. */
  readonly onlyA: number
  readonly onlyB: number
  /** Captures that a person excluded, and those among the pairs that are measured with marks moved by hand. */
  readonly excluded: number
  readonly overridden: number
  readonly note: string
}

/** What stands against the uncertainty of n pairs; empty from five on, and for none. */
function pairsNote(n: number): string {
  if (n >= MIN_REPEATS || n === 0) return ''
  return `No usable uncertainty: ${plural(n, 'capture')}, at least ${MIN_REPEATS} are needed.`
}

/** What has a value under both recipes: how much, the means, and the mean of the differences b − a with its U95. */
export function pairedMeans(
  pairs: readonly { readonly a: number; readonly b: number }[],
): Pick<CellComparison, 'n' | 'a' | 'b' | 'difference' | 'u95'> {
  const { mean: difference, u95 } = meanUncertainty(pairs.map(({ a, b }) => b - a))
  return { n: pairs.length, a: mean(pairs.map(({ a }) => a)), b: mean(pairs.map(({ b }) => b)), difference, u95 }
}

/** The means a summary has, by their names there. */
export const COMPARED_SUMMARIES = [
  'mean',
  'median',
  'worst',
  'riseMean',
  'fallMean',
  'darkMean',
  'inWindowShare',
  'overshootMean',
  'overshootOverLimitShare',
] as const
export type ComparedSummary = (typeof COMPARED_SUMMARIES)[number]

export interface SummaryDifference {
  readonly name: ComparedSummary
  readonly a: SummaryValue
  readonly b: SummaryValue
  readonly difference: number | null
  /** Captures with a value under one of the recipes only, of the measure it is drawn from: in neither a nor b. */
  readonly leftOut: { readonly a: number; readonly b: number }
}

export interface RecipeComparison {
  readonly sweepId: number
  readonly measure: MeasureId
  readonly recipeHashA: string
  readonly recipeHashB: string
  readonly cells: readonly CellComparison[]
  /** The cells that changed most, by size of the difference; never more than asked for. */
  readonly mostChanged: readonly CellComparison[]
  /** Cells with a value under exactly one of the recipes: no difference can be stated for them. */
  readonly onlyUnderOne: readonly CellComparison[]
  /** Over the captures with a value under both recipes, like the cells: never 212 captures against 216. */
  readonly summaries: readonly SummaryDifference[]
  readonly summaryA: SweepSummary
  readonly summaryB: SweepSummary
}

/** The measure a summary is drawn from. */
function summaryMeasure(name: ComparedSummary, measure: MeasureId): MeasureId {
  if (name === 'inWindowShare') return 'in_window'
  return name === 'overshootMean' || name === 'overshootOverLimitShare' ? 'overshoot_pct' : measure
}

/**
 * Both matrices with a measure's value taken from each capture that lacks it in the other one, and how many those are.
 * A recipe under which some captures lose their value would otherwise seem to change the mean by leaving them out.
 */
function sharedValues(a: MatrixData, b: MatrixData) {
  const byId = (data: MatrixData) =>
    new Map(data.cells.flatMap(({ entries }) => entries.map((entry) => [entry.captureId, entry.values] as const)))
  const leftOut = new Map<MeasureId, { a: number; b: number }>()
  const masked = (data: MatrixData, side: 'a' | 'b', other: ReturnType<typeof byId>): MatrixData => ({
    ...data,
    cells: data.cells.map((cell) => ({
      ...cell,
      entries: cell.entries.map((entry) => {
        const values: Partial<Record<MeasureId, number | null>> = { ...entry.values }
        for (const id of Object.keys(values) as MeasureId[]) {
          if (values[id] === null || (other.get(entry.captureId)?.[id] ?? null) !== null) continue
          values[id] = null
          if (entry.excluded) continue
          const counted = leftOut.get(id) ?? { a: 0, b: 0 }
          counted[side] += 1
          leftOut.set(id, counted)
        }
        return { ...entry, values }
      }),
    })),
  })
  const [valuesA, valuesB] = [byId(a), byId(b)]
  return { a: masked(a, 'a', valuesB), b: masked(b, 'b', valuesA), leftOut }
}

/**
 * The same captures under two recipes, transition by transition and in summary. Pairing capture with capture takes the
 * repeats' own scatter out of the difference. Throws `invalid-input` when the matrices are of different sweeps.
 */
export function compareRecipes(
  a: { readonly data: MatrixData; readonly recipe: Pick<Recipe, 'darkCode' | 'overshootLimitPct'> },
  b: { readonly data: MatrixData; readonly recipe: Pick<Recipe, 'darkCode' | 'overshootLimitPct'> },
  options: { readonly measure?: MeasureId; readonly repeats?: number | null; readonly most?: number } = {},
): RecipeComparison {
  if (a.data.sweepId !== b.data.sweepId)
    throw new AppError(
      'invalid-input',
      `Recipes can only be compared on the same captures: these are sweeps ${a.data.sweepId} and ${b.data.sweepId}.`,
      'Choose one sweep and two recipes.',
    )
  const measure = options.measure ?? 'transition_duration_s'
  const cellsB = byPair(cellsOf(b.data))
  const cells = cellsOf(a.data).map(({ from, to, entries }): CellComparison => {
    const entriesB = cellsB.get(pairKey({ from, to }))?.entries ?? []
    const usableA = usableEntries(entries, measure)
    const valuesB = new Map(usableEntries(entriesB, measure).map(({ entry, value }) => [entry.captureId, value]))
    const pairs = usableA.flatMap(({ entry, value }) => {
      const valueB = valuesB.get(entry.captureId)
      return valueB === undefined ? [] : [{ a: value, b: valueB, overridden: entry.overridden }]
    })
    const means = pairedMeans(pairs)
    return {
      from,
      to,
      ...means,
      differencePct: means.difference === null || !means.a ? null : (100 * means.difference) / means.a,
      onlyA: usableA.length - pairs.length,
      onlyB: valuesB.size - pairs.length,
      excluded: new Set([...entries, ...entriesB].flatMap((entry) => (entry.excluded ? [entry.captureId] : []))).size,
      overridden: pairs.filter((pair) => pair.overridden).length,
      note: pairsNote(pairs.length),
    }
  })
  const summaryOptions = { measure, repeats: options.repeats ?? null }
  const shared = sharedValues(a.data, b.data)
  const summaryA = summarise(shared.a, a.recipe, summaryOptions)
  const summaryB = summarise(shared.b, b.recipe, summaryOptions)
  const changed = cells.filter((cell) => cell.difference !== null && cell.difference !== 0)
  changed.sort((x, y) => Math.abs(y.difference as number) - Math.abs(x.difference as number))
  return {
    sweepId: a.data.sweepId,
    measure,
    recipeHashA: a.data.recipeHash,
    recipeHashB: b.data.recipeHash,
    cells,
    mostChanged: changed.slice(0, options.most ?? 5),
    onlyUnderOne: cells.filter((cell) => cell.n === 0 && cell.onlyA !== cell.onlyB),
    summaries: COMPARED_SUMMARIES.map((name) => {
      const [valueA, valueB] = [summaryA[name], summaryB[name]]
      return {
        name,
        a: valueA,
        b: valueB,
        difference: valueA.value === null || valueB.value === null ? null : valueB.value - valueA.value,
        leftOut: shared.leftOut.get(summaryMeasure(name, measure)) ?? { a: 0, b: 0 },
      }
    }),
    summaryA,
    summaryB,
  }
}
