import { pairKey } from '#shared/domain/level-pair.ts'
import type { Sweep } from '#shared/domain/capture.ts'
import type { MeasureId } from '#shared/domain/measures.ts'
import { DEFAULT_RECIPE, recipeHash } from '#shared/domain/recipe.ts'
import type { CellComparison, RecipeComparison } from '#shared/findings/compare.ts'
import { describeError } from '../../client/errors.ts'
import { useHostQuery } from '../../client/queries.ts'
import { css } from '../../ui/colour.ts'
import { diverging } from '../../ui/difference-colours.ts'
import { EmptyState } from '../../ui/controls.tsx'
import { SelectInput } from '../../ui/fields.tsx'
import { displayUnit, pair, plural } from '../../ui/format.ts'
import { RampLegend } from '../../ui/matrix-table.tsx'
import { useTheme } from '../../ui/theme.ts'
import { useKept } from '../../ui/use-kept.ts'
import { MATRIX_MEASURES, MEASURE_CHOICES, type MatrixMeasure, matrixLabel } from '../../ui/measures-shown.ts'
import { ComparedTable } from './compared-table.tsx'
import { DifferenceGrid } from './difference-grid.tsx'
import { Difference } from './difference.tsx'
import { differenceText, isSeen, meanText, tracesOf } from './difference-text.ts'
import type { KnownRecipe } from './recipe-list.tsx'
import { sweepText } from './scope-choice.tsx'
import { SummaryTable } from './summary-table.tsx'

export interface ComparePaneProps {
  readonly sweep: Sweep
  readonly recipes: readonly KnownRecipe[]
  readonly newHash: string
  /** Recipe first compared with; null leaves the default one. */
  readonly firstOld: string | null
}

/** The stored results of one sweep under an old recipe and under the one that is shown. */
export function ComparePane({ sweep, recipes, newHash, firstOld }: ComparePaneProps) {
  const others = recipes.filter(({ hash }) => hash !== newHash)
  const first = [firstOld, recipeHash(DEFAULT_RECIPE)].find((hash) => others.some((known) => known.hash === hash))
  // Kept while it is looked at: switching the recipe in use must not exchange what is compared.
  const [oldHash, setOldHash] = useKept(`recipes: ${newHash} compared with`, first ?? others[0]?.hash ?? null)
  const [chosen, setChosen] = useKept<MatrixMeasure | null>('recipes: measure compared', null)
  const asked = useHostQuery(
    ['matrix', 'compare', sweep.id, oldHash, newHash],
    (client, signal) =>
      client.recipes.compare(
        { sweepId: sweep.id, oldHash: oldHash ?? '', newHash, measures: [...MATRIX_MEASURES], most: 12 },
        { signal },
      ),
    { enabled: oldHash !== null },
  )
  const comparisons = asked.data?.comparisons ?? []
  const changed = comparisons.filter((one) => one.cells.some((cell) => isSeen(one.measure, cell.difference)))
  const measure = chosen ?? MATRIX_MEASURES.find((id) => id === changed[0]?.measure) ?? 'transition_duration_s'
  const comparison = comparisons.find((one) => one.measure === measure) ?? null
  return (
    <section className="compare-pane" aria-label="Difference">
      <div className="pane-form">
        <SelectInput
          label="Compared with"
          value={oldHash}
          choices={others.map(({ hash, recipe }) => ({ id: hash, label: recipe.name, note: hash.slice(0, 8) }))}
          onChange={setOldHash}
        />
        <SelectInput
          label="Measure"
          value={measure}
          choices={MEASURE_CHOICES.map(({ id, label }) => ({
            id,
            label,
            ...(changed.some((one) => one.measure === id) ? { note: 'changed' } : {}),
          }))}
          onChange={setChosen}
        />
      </div>
      {asked.error !== null ? (
        <EmptyState title="The comparison could not be made">{describeError(asked.error).message}</EmptyState>
      ) : comparison === null || asked.data === undefined ? (
        <p className="hint">Comparing…</p>
      ) : (
        <Differences sweep={sweep} measure={measure} comparison={comparison} unmeasured={asked.data.unmeasured} />
      )}
    </section>
  )
}

function Differences(props: {
  readonly sweep: Sweep
  readonly measure: MeasureId
  readonly comparison: RecipeComparison
  readonly unmeasured: { readonly old: number; readonly new: number }
}) {
  const { sweep, measure, comparison, unmeasured } = props
  const size = comparison.cells.reduce((most, { difference }) => Math.max(most, Math.abs(difference ?? 0)), 0)
  const unit = displayUnit(measure)
  const name = matrixLabel(measure)
  const sumOf = (count: (cell: CellComparison) => number) =>
    comparison.cells.reduce((sum, cell) => sum + count(cell), 0)
  const compared = sumOf(({ n }) => n)
  const onlyOld = sumOf(({ onlyA }) => onlyA)
  const onlyNew = sumOf(({ onlyB }) => onlyB)
  const { excluded } = comparison.summaryB.counts
  return (
    <>
      <p role="status">
        {plural(compared, 'capture')} of {sweepText(sweep).replace('Sweep', 'sweep')} compared: those with a value under
        both recipes.
        {onlyOld + onlyNew === 0
          ? ''
          : ` Left out: ${onlyOld} with a value under the old one only, ${onlyNew} under the new one only.`}
        {excluded === 0 ? '' : ` Excluded by review: ${excluded}.`}
        {unmeasured.new === 0 ? null : (
          <span className="warn-text"> ▲ {unmeasured.new} not yet measured under the new recipe: apply it.</span>
        )}
        {unmeasured.old === 0 ? null : (
          <span className="warn-text"> ▲ {unmeasured.old} not measured under the old recipe: apply that one.</span>
        )}
      </p>
      <Legend size={size} measure={measure} />
      {/* A scrolling region; its grid is reachable by keyboard. */}
      <div className="difference-scroll">
        <DifferenceGrid
          label={`Difference new − old: ${name}${unit === '' ? '' : `, ${unit}`}, sweep ${sweep.id}`}
          sweepId={sweep.id}
          measure={measure}
          cells={comparison.cells}
          size={size}
        />
      </div>
      <SummaryTable
        label="Summary under both recipes"
        measure={measure}
        summaries={comparison.summaries}
        oldHead="Old"
        newHead="New"
      />
      <h3>Transitions that changed most</h3>
      <MostChanged sweepId={sweep.id} measure={measure} cells={comparison.mostChanged} />
      {comparison.onlyUnderOne.length === 0 ? null : (
        <p className="warn-text">
          With a value under one recipe only: {comparison.onlyUnderOne.map(({ from, to }) => pair(from, to)).join(', ')}
          .
        </p>
      )}
    </>
  )
}

function Legend({ size, measure }: { size: number; measure: MeasureId }) {
  const theme = useTheme()
  if (size === 0) return <p className="hint">No transition changed.</p>
  const stops = Array.from({ length: 9 }, (_, i) => css(diverging(i / 4 - 1, theme)))
  const [less, more] = [differenceText(measure, -size), differenceText(measure, size)]
  return (
    <RampLegend label={`Colour scale of the difference from ${less} to ${more}`} from={less} to={more} stops={stops} />
  )
}

function MostChanged(props: { sweepId: number; measure: MeasureId; cells: readonly CellComparison[] }) {
  const { sweepId, measure, cells } = props
  if (cells.length === 0) return <p className="hint">No transition changed.</p>
  return (
    <ComparedTable label="Transitions that changed most" heads={['Traces of', 'Old', 'New', 'Difference ± U95', 'n']}>
      {cells.map((cell) => (
        <tr key={pairKey(cell)}>
          <th scope="row">
            <a href={tracesOf(sweepId, cell.from, cell.to)}>{pair(cell.from, cell.to)}</a>
          </th>
          <td className="align-end digits">{meanText(measure, cell.a)}</td>
          <td className="align-end digits">{meanText(measure, cell.b)}</td>
          <td className="align-end digits" title={cell.note}>
            <Difference measure={measure} difference={cell.difference} u95={cell.u95} />
          </td>
          <td className="align-end digits">{cell.n}</td>
        </tr>
      ))}
    </ComparedTable>
  )
}
