/** `show cell`: one transition of a sweep with its captures, and what the uncertainty of its mean is made of. */
import { MEASURES, type MeasureId } from '#shared/domain/measures.ts'
import { AppError } from '#shared/domain/errors.ts'
import { ALGORITHM } from '#shared/domain/result.ts'
import { budgetTerms, t95, type BudgetTerm } from '#shared/findings/budget.ts'
import { cellStatistics, repeatsExpected, usableEntries, type CellStatistics } from '#shared/findings/matrix.ts'
import { uncertaintyTerms } from '#shared/measure/measure-capture.ts'
import { cellTerms } from '#main/core/cell-terms.ts'
import type { Store } from '#main/core/ports.ts'
import type { KnownRecipe } from './choose-recipe.ts'
import { cellsText } from './matrix-text.ts'
import { shortNumber, textTable, type Output } from './output.ts'
import { keyIn, shownUnit, shownValue, twoDigits } from './quantities.ts'
import { cellJson, recipeJson } from './shapes.ts'

export interface CellRequest {
  readonly sweepId: number
  readonly from: number | undefined
  readonly to: number | undefined
  readonly measure: MeasureId
  readonly budget: boolean
}

export async function showCell(store: Store, output: Output, chosen: KnownRecipe, request: CellRequest): Promise<void> {
  const { sweepId, from, to, measure } = request
  if (from === undefined || to === undefined)
    throw new AppError(
      'invalid-input',
      'Which transition?',
      `Give --from and --to: show cell ${sweepId} --from 0 --to 255.`,
    )
  const [sweep, data] = await Promise.all([
    store.sweep({ sweepId }),
    store.matrix({ sweepId, recipeHash: chosen.hash, measures: [measure] }),
  ])
  const cell = cellStatistics(data, measure, repeatsExpected(sweep)).find((one) => one.from === from && one.to === to)
  if (cell === undefined)
    throw new AppError('not-found', `Sweep ${sweepId} has no transition ${from} → ${to}.`, 'Choose two of its levels.')
  const entries = data.cells.find((one) => one.from === from && one.to === to)?.entries ?? []
  const used = usableEntries(entries, measure).map(({ entry }) => entry.captureId)
  const causes = request.budget ? await cellTerms(store, uncertaintyTerms, chosen.recipe, used, measure) : []
  const terms =
    request.budget && cell.budget !== null && measure !== 'in_window' ? budgetTerms(cell.budget, cell.n, causes) : null
  const single = causes.filter(({ averages }) => averages)
  output.result(
    {
      sweep_id: sweepId,
      recipe: recipeJson(chosen, ALGORITHM),
      measure,
      unit: MEASURES[measure].unit,
      cell: cellJson(cell, measure),
      captures: entries.map(({ captureId, repeat, values, excluded, overridden, flagCount, undecided }) => ({
        capture_id: captureId,
        repeat,
        [keyIn('value', measure)]: values[measure] ?? null,
        undecided: undecided ?? false,
        excluded,
        overridden,
        flags: flagCount,
      })),
      ...(terms === null
        ? {}
        : {
            budget: terms.map(({ name, u, sharePct, averages, remedy }) => ({
              term: name,
              [keyIn('u', measure)]: u,
              share_pct: sharePct,
              averages,
              remedy,
            })),
            single_capture: causes.map(({ name, u, averages }) => ({ term: name, [keyIn('u', measure)]: u, averages })),
          }),
    },
    () =>
      [
        `${from} → ${to} of sweep ${sweepId}: ${sweep.plan.setting} at ${sweep.plan.refreshHz} Hz`,
        `${MEASURES[measure].label}, recipe: ${chosen.recipe.name} (${chosen.hash})`,
        '',
        cellsText([cell], measure),
        '',
        textTable(
          ['capture', 'repeat', `value ${shownUnit(measure)}`.trim(), ''],
          entries.map(({ captureId, repeat, values, excluded, undecided }) => [
            captureId,
            repeat,
            undecided === true ? 'undecided' : shownValue(measure, values[measure] ?? null),
            excluded ? 'excluded' : '',
          ]),
        ),
        ...(terms === null ? [] : ['', budgetText(terms, measure), totalText(cell, measure)]),
        ...(terms === null || single.length === 0
          ? []
          : [
              '',
              `In the scatter of the repeats, of a single capture: ${single
                .map(({ name, u }) => `${name.toLowerCase()} ${twoDigits(measure, u)}`)
                .join(', ')} ${shownUnit(measure)}.`.replace(' .', '.'),
            ]),
      ].join('\n'),
  )
}

function budgetText(terms: readonly BudgetTerm[], measure: MeasureId): string {
  return textTable(
    ['uncertainty from', `u ${shownUnit(measure)}`.trim(), 'share', 'falls with repeats', 'what helps'],
    terms.map(({ name, u, sharePct, averages, remedy }) => [
      name,
      twoDigits(measure, u),
      `${shortNumber(sharePct)} %`,
      averages ? 'yes' : 'no',
      remedy,
    ]),
  )
}

/** How the interval follows from the terms. */
function totalText({ budget, dof }: CellStatistics, measure: MeasureId): string {
  if (budget === null) return ''
  const together = `Together ${twoDigits(measure, budget.u)} ${shownUnit(measure)}`.trim()
  return dof === null ? `${together}.` : `${together}; U95 is ${t95(dof).toFixed(2)} times that.`
}
