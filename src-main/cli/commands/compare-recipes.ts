import { plural } from '#shared/domain/quantity-text.ts'
import type { Command } from 'commander'
import type { MeasureId } from '#shared/domain/measures.ts'
import { MEASURES } from '#shared/domain/measures.ts'
import { ALGORITHM } from '#shared/domain/result.ts'
import { compareRecipes, type CellComparison, type RecipeComparison } from '#shared/findings/compare.ts'
import { SUMMARY_MEASURES } from '#shared/findings/summary.ts'
import type { Store } from '#main/core/ports.ts'
import type { KnownRecipe } from '../choose-recipe.ts'
import { EXIT, type ExitCode } from '../exit-codes.ts'
import { idOption, integerOption, measureOption } from '../options.ts'
import { textTable, type Output } from '../output.ts'
import { keyIn, shownUnit, shownValue, snakeCase, twoDigits, withUnit } from '../quantities.ts'
import { recipeJson, summaryJson, type Json } from '../shapes.ts'
import { storedRecipe } from './show.ts'

export interface CompareOptions {
  readonly sweep: number
  readonly measure: MeasureId
  readonly most: number
}

export function describeCompare(command: Command): Command {
  return command
    .description('the same captures of a sweep under two recipes: what changes, and where most')
    .argument('<a>', 'recipe: name, hash or JSON file')
    .argument('<b>', 'recipe to compare with it; differences are b − a')
    .requiredOption('--sweep <id>', 'sweep whose captures are compared', idOption)
    .option('--measure <measure>', 'measure that is compared', measureOption, 'transition_duration_s')
    .option('--most <n>', 'how many of the most changed transitions are listed', integerOption(1, 1000), 5)
    .addHelpText(
      'after',
      `
Example:
  slewlight compare-recipes 10-90 "2 L*" --sweep 3

Only captures with a value under both recipes enter a difference. Exit code 1 when captures are not measured yet
under one of the recipes; \`slewlight reanalyse --recipe <recipe> --sweep <id>\` measures them.`,
    )
}

export async function runCompare(
  a: string,
  b: string,
  options: CompareOptions,
  store: Store,
  output: Output,
): Promise<ExitCode> {
  const { sweep: sweepId, measure, most } = options
  const [chosenA, chosenB] = [await storedRecipe(store, a), await storedRecipe(store, b)]
  const sweep = await store.sweep({ sweepId })
  const wanted = [...new Set([measure, ...SUMMARY_MEASURES])]
  const [dataA, dataB] = [
    await store.matrix({ sweepId, recipeHash: chosenA.hash, measures: wanted }),
    await store.matrix({ sweepId, recipeHash: chosenB.hash, measures: wanted }),
  ]
  const comparison = compareRecipes(
    { data: dataA, recipe: chosenA.recipe },
    { data: dataB, recipe: chosenB.recipe },
    { measure, most, repeats: sweep.plan.repeats },
  )
  const unmeasured = { a: dataA.unmeasured, b: dataB.unmeasured }
  output.result(comparisonJson(comparison, chosenA, chosenB, unmeasured), () =>
    comparisonText(comparison, chosenA, chosenB, unmeasured),
  )
  return unmeasured.a + unmeasured.b > 0 ? EXIT.incomplete : EXIT.done
}

const cellJson = (cell: CellComparison, measure: MeasureId): Json => ({
  from_code: cell.from,
  to_code: cell.to,
  n: cell.n,
  [keyIn('a', measure)]: cell.a,
  [keyIn('b', measure)]: cell.b,
  [keyIn('difference', measure)]: cell.difference,
  difference_pct_of_a: cell.differencePct,
  [keyIn('u95', measure)]: cell.u95,
  only_a: cell.onlyA,
  only_b: cell.onlyB,
  excluded: cell.excluded,
  overridden: cell.overridden,
  note: cell.note,
})

function comparisonJson(
  comparison: RecipeComparison,
  a: KnownRecipe,
  b: KnownRecipe,
  unmeasured: { a: number; b: number },
): Json {
  const { measure, cells, mostChanged, onlyUnderOne, summaries } = comparison
  const toJson = (cell: CellComparison): Json => cellJson(cell, measure)
  return {
    sweep_id: comparison.sweepId,
    measure,
    unit: MEASURES[measure].unit,
    recipe_a: recipeJson(a, ALGORITHM),
    recipe_b: recipeJson(b, ALGORITHM),
    unmeasured_a: unmeasured.a,
    unmeasured_b: unmeasured.b,
    cells: cells.map(toJson),
    most_changed: mostChanged.map(toJson),
    only_under_one: onlyUnderOne.map(toJson),
    summary_differences: Object.fromEntries(
      summaries.map(({ name, difference }) => [keyIn(snakeCase(name), summaryMeasure(name, measure)), difference]),
    ),
    summary_a: summaryJson(comparison.summaryA),
    summary_b: summaryJson(comparison.summaryB),
  }
}

const summaryMeasure = (name: string, measure: MeasureId): MeasureId =>
  name === 'inWindowShare' || name.startsWith('overshoot') ? 'overshoot_pct' : measure

function comparisonText(
  comparison: RecipeComparison,
  a: KnownRecipe,
  b: KnownRecipe,
  unmeasured: { a: number; b: number },
): string {
  const { measure, mostChanged, onlyUnderOne, summaries } = comparison
  const unit = shownUnit(measure)
  const show = (value: number | null): string => shownValue(measure, value)
  const lines = [
    `Sweep ${comparison.sweepId}, ${MEASURES[measure].label.toLowerCase()}${unit === '' ? '' : ` in ${unit}`}`,
    `a: ${a.recipe.name} (${a.hash})`,
    `b: ${b.recipe.name} (${b.hash})`,
    '',
    textTable(
      ['summary', 'a', 'b', 'b − a'],
      summaries.map(({ name, a: valueA, b: valueB, difference }) => {
        const id = summaryMeasure(name, measure)
        return [
          snakeCase(name).replaceAll('_', ' '),
          withUnit(id, valueA.value),
          withUnit(id, valueB.value),
          withUnit(id, difference),
        ]
      }),
    ),
    '',
    mostChanged.length === 0
      ? 'No transition changed.'
      : `Most changed:\n${textTable(
          ['from', 'to', 'n', 'a', 'b', 'b − a', '%', 'U95', 'excluded', 'by hand'],
          mostChanged.map((cell) => [
            cell.from,
            cell.to,
            cell.n,
            show(cell.a),
            show(cell.b),
            show(cell.difference),
            cell.differencePct === null ? '–' : cell.differencePct.toFixed(1),
            cell.u95 === null ? '–' : twoDigits(measure, cell.u95),
            cell.excluded,
            cell.overridden,
          ]),
        )}`,
  ]
  if (onlyUnderOne.length > 0)
    lines.push(
      `With a value under one recipe only: ${onlyUnderOne.map(({ from, to }) => `${from} → ${to}`).join(', ')}.`,
    )
  if (unmeasured.a + unmeasured.b > 0)
    lines.push(`Not measured yet: ${plural(unmeasured.a, 'capture')} under a, ${unmeasured.b} under b.`)
  return lines.join('\n')
}
