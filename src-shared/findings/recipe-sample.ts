/** What another recipe would change, judged on a sample of captures that is measured under both. */
import { grouped, pairKey } from '#shared/domain/level-pair.ts'
import { seededRandom, shuffled } from '#shared/domain/seeded-random.ts'
import { MEASURE_IDS, type MeasureId } from '#shared/domain/measures.ts'
import type { FlagId, Result } from '#shared/domain/result.ts'
import type { Recipe } from '#shared/domain/recipe.ts'
import type { MatrixData, MatrixEntry } from '#shared/domain/views.ts'
import { compareRecipes, pairedMeans, type SummaryDifference } from './compare.ts'
import { SUMMARY_MEASURES } from './summary.ts'

interface Placed {
  readonly sweepId: number
  readonly from: number
  readonly to: number
}

const cellKey = (item: Placed): string => `${item.sweepId} ${pairKey(item)}`

/**
 * At most `count` of the items, spread evenly: every transition of every sweep gives one capture before any gives a
 * second. Which ones is drawn by the seed; the answer keeps the order of `items`.
 */
export function spreadSample<T extends Placed>(items: readonly T[], count: number, seed: number): T[] {
  if (items.length <= count) return [...items]
  const random = seededRandom(seed)
  const cells = grouped(items, cellKey)
  const piles = shuffled([...cells.values()], random).map((pile) => shuffled(pile, random))
  const taken = new Set<T>()
  for (let round = 0; taken.size < count; round++)
    for (const pile of piles) {
      const item = pile[round]
      if (item !== undefined && taken.size < count) taken.add(item)
    }
  return items.filter((item) => taken.has(item))
}

/** As much of a result as a sample is judged by. */
export interface SampledResult {
  readonly values: Result['values']
  readonly flags: readonly FlagId[]
}

/** One capture of the sample under the recipe in use (a) and under the other (b); null where measuring failed. */
export interface SampledCapture extends Placed {
  readonly captureId: number
  readonly a: SampledResult | null
  readonly b: SampledResult | null
}

export function sampledResult(result: Result | null): SampledResult | null {
  return result && { values: result.values, flags: [...new Set(result.flags.map(({ id }) => id))] }
}

export interface MeasureShift {
  readonly measure: MeasureId
  /** Captures with a value under both; the means and the difference are theirs. */
  readonly n: number
  readonly a: number | null
  readonly b: number | null
  /** Mean of b − a, capture by capture. */
  readonly difference: number | null
  /** Half width of its 95 % interval; null below five captures. */
  readonly u95: number | null
  /** Captures with a value under one of them only: they become undefined, or cease to be. */
  readonly onlyA: number
  readonly onlyB: number
}

/** How one transition of one sweep would move in the measure asked for. */
export interface SampledCell extends Placed {
  readonly n: number
  readonly a: number | null
  readonly b: number | null
  readonly difference: number | null
}

export interface SampleComparison {
  readonly measures: readonly MeasureShift[]
  /** Captures with at least one doubt of their own (those that come from comparing captures are not in a sample). */
  readonly flagged: { readonly a: number; readonly b: number }
  readonly flags: readonly { readonly flag: FlagId; readonly a: number; readonly b: number }[]
  /** Captures that could not be measured at all. */
  readonly failed: { readonly a: number; readonly b: number }
  /** Transitions by the size of their difference, largest first; at most `most`. */
  readonly cells: readonly SampledCell[]
  /** Transitions of the sample in all. */
  readonly cellCount: number
}

/** How the summary of one sweep would move, as far as its captures of the sample tell. */
export interface SampledSweep {
  readonly sweepId: number
  /** Captures of the sample in this sweep. */
  readonly n: number
  readonly summaries: readonly SummaryDifference[]
}

/** A measured sample of the `total` captures that enter statistics, drawn by the seed. */
export interface RecipeSample {
  readonly total: number
  readonly seed: number
  readonly captures: readonly SampledCapture[]
}

const valueOf = (result: SampledResult | null, measure: MeasureId): number | null => result?.values[measure] ?? null

function shiftOf(captures: readonly SampledCapture[], measure: MeasureId): MeasureShift {
  const pairs: { a: number; b: number }[] = []
  let onlyA = 0
  let onlyB = 0
  for (const capture of captures) {
    const [a, b] = [valueOf(capture.a, measure), valueOf(capture.b, measure)]
    if (a !== null && b !== null) pairs.push({ a, b })
    else if (a !== null) onlyA++
    else if (b !== null) onlyB++
  }
  return {
    measure,
    ...pairedMeans(pairs),
    onlyA,
    onlyB,
  }
}

/** Both recipes on the same captures: the repeats' own scatter drops out of the differences. */
export function compareSample(
  captures: readonly SampledCapture[],
  options: { readonly measure: MeasureId; readonly most?: number },
): SampleComparison {
  const cells = grouped(captures, cellKey)
  const flags = new Map<FlagId, { a: number; b: number }>()
  const count = (result: SampledResult | null, side: 'a' | 'b') => {
    for (const id of result?.flags ?? []) {
      const entry = flags.get(id) ?? { a: 0, b: 0 }
      entry[side]++
      flags.set(id, entry)
    }
  }
  for (const capture of captures) {
    count(capture.a, 'a')
    count(capture.b, 'b')
  }
  const moved = [...cells.values()].flatMap((own): SampledCell[] => {
    const [first] = own
    if (first === undefined) return []
    const { n, a, b, difference } = shiftOf(own, options.measure)
    return [{ sweepId: first.sweepId, from: first.from, to: first.to, n, a, b, difference }]
  })
  const changed = moved.filter(({ difference }) => difference !== null && difference !== 0)
  changed.sort((x, y) => Math.abs(y.difference ?? 0) - Math.abs(x.difference ?? 0))
  const tally = (holds: (result: SampledResult | null) => boolean) => ({
    a: captures.filter(({ a }) => holds(a)).length,
    b: captures.filter(({ b }) => holds(b)).length,
  })
  return {
    measures: MEASURE_IDS.map((measure) => shiftOf(captures, measure)),
    flagged: tally((result) => (result?.flags.length ?? 0) > 0),
    flags: [...flags].map(([flag, sides]) => ({ flag, ...sides })).sort((x, y) => (x.flag < y.flag ? -1 : 1)),
    failed: tally((result) => result === null),
    cells: changed.slice(0, options.most ?? 8),
    cellCount: cells.size,
  }
}

type SummaryRecipe = Pick<Recipe, 'darkCode' | 'overshootLimitPct'>

/** Summaries of each sweep of the sample under both recipes, in the order of their ids; sweeps are never mixed. */
export function sampledSweeps(
  captures: readonly SampledCapture[],
  measure: MeasureId,
  recipeA: SummaryRecipe,
  recipeB: SummaryRecipe,
): SampledSweep[] {
  return [...grouped(captures, ({ sweepId }) => sweepId)]
    .sort(([a], [b]) => a - b)
    .map(([sweepId, own]) => {
      const a = { data: matrixOf(sweepId, own, 'a', measure), recipe: recipeA }
      const b = { data: matrixOf(sweepId, own, 'b', measure), recipe: recipeB }
      return { sweepId, n: own.length, summaries: compareRecipes(a, b, { measure, most: 0 }).summaries }
    })
}

/** Results of the sample in the shape of a stored matrix. */
function matrixOf(
  sweepId: number,
  captures: readonly SampledCapture[],
  side: 'a' | 'b',
  measure: MeasureId,
): MatrixData {
  const wanted = [...new Set([measure, ...SUMMARY_MEASURES])]
  const measured = captures.flatMap(({ [side]: result, ...capture }) =>
    result === null ? [] : [{ ...capture, result }],
  )
  const cells = [...grouped(measured, pairKey).values()].flatMap((own) => {
    const [first] = own
    if (first === undefined) return []
    const entries = own.map(({ captureId, result }, k): MatrixEntry => ({
      captureId,
      repeat: k + 1,
      values: Object.fromEntries(wanted.map((id) => [id, result.values[id]])),
      flagCount: result.flags.length,
      excluded: false,
      overridden: false,
    }))
    return [{ from: first.from, to: first.to, entries }]
  })
  return {
    sweepId,
    recipeHash: '',
    levels: [...new Set(captures.flatMap(({ from, to }) => [from, to]))].sort((a, b) => a - b),
    cells,
    unmeasured: captures.length - measured.length,
  }
}
