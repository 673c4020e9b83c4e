/** A sweep with its matrix and summary, as JSON and as text. */
import type { Sweep } from '#shared/domain/capture.ts'
import { MEASURES, type MeasureId } from '#shared/domain/measures.ts'
import { ALGORITHM } from '#shared/domain/result.ts'
import { cellStatistics } from '#shared/findings/matrix.ts'
import { SUMMARY_MEASURES, summarise } from '#shared/findings/summary.ts'
import type { Store } from '#main/core/ports.ts'
import type { KnownRecipe } from './choose-recipe.ts'
import { cellsText, matrixText, summaryText } from './matrix-text.ts'
import { cellJson, recipeJson, summaryJson, sweepJson, type Json } from './shapes.ts'

export interface SweepReport {
  readonly sweep: Sweep
  readonly json: Json
  readonly text: string
}

export async function sweepReport(
  store: Store,
  sweepId: number,
  chosen: KnownRecipe,
  measure: MeasureId = 'transition_duration_s',
  asCells = false,
): Promise<SweepReport> {
  const sweep = await store.sweep({ sweepId })
  const data = await store.matrix({
    sweepId,
    recipeHash: chosen.hash,
    measures: [...new Set([measure, ...SUMMARY_MEASURES])],
  })
  const { repeats } = sweep.plan
  const cells = cellStatistics(data, measure, repeats)
  const summary = summarise(data, chosen.recipe, { measure, repeats })
  const { setting, refreshHz } = sweep.plan
  return {
    sweep,
    json: {
      sweep: sweepJson(sweep),
      recipe: recipeJson(chosen, ALGORITHM),
      measure,
      unit: MEASURES[measure].unit,
      cells: cells.map((cell) => cellJson(cell, measure)),
      summary: summaryJson(summary),
    },
    text: [
      `Sweep ${sweep.id}: ${setting} at ${refreshHz} Hz, ${sweep.state}${sweep.reason === '' ? '' : ` (${sweep.reason})`}`,
      `Recipe: ${chosen.recipe.name} (${chosen.hash}, algorithm ${ALGORITHM})`,
      '',
      asCells ? cellsText(cells, measure) : matrixText(cells, measure),
      '',
      summaryText(summary, sweep.origin === 'imported'),
    ].join('\n'),
  }
}
