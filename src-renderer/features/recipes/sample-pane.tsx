import { memo, useState } from 'react'
import type { Campaign, Sweep } from '#shared/domain/capture.ts'
import type { MeasureId } from '#shared/domain/measures.ts'
import { recipeHash, type Recipe } from '#shared/domain/recipe.ts'
import { compareSample, sampledSweeps, type MeasureShift, type RecipeSample } from '#shared/findings/recipe-sample.ts'
import { useCommand } from '../../client/use-command.ts'
import { Action, EmptyState, Segmented } from '../../ui/controls.tsx'
import { SelectInput } from '../../ui/fields.tsx'
import { count, pair, plural } from '../../ui/format.ts'
import { FLAG_WORDS } from '../../ui/words.ts'
import { MATRIX_MEASURES, MEASURE_CHOICES, type MatrixMeasure, matrixLabel } from '../../ui/measures-shown.ts'
import { ComparedTable } from './compared-table.tsx'
import { Difference } from './difference.tsx'
import { differenceText, isSeen, meanText, tracesOf } from './difference-text.ts'
import type { KnownRecipe } from './recipe-list.tsx'
import { useDraft } from './drafts.ts'
import { ScopeChoice, scopeOf, type ScopeKind } from './scope-choice.tsx'
import { SummaryTable } from './summary-table.tsx'

const SIZES = [
  { id: '20', label: '20' },
  { id: '60', label: '60' },
  { id: '200', label: '200' },
] as const
type Size = (typeof SIZES)[number]['id']

/** A measured sample with what it was asked for. */
interface Taken {
  readonly sample: RecipeSample
  readonly hash: string
  readonly inUse: KnownRecipe
  readonly recipe: Recipe
}

export interface SamplePaneProps {
  readonly shown: KnownRecipe
  readonly inUse: KnownRecipe
  readonly sweep: Sweep | null
  readonly sweeps: readonly Sweep[]
  readonly campaigns: readonly Campaign[]
}

/** Before anything is stored: what the edited recipe would do to a sample of the archive. */
export function SamplePane({ shown, inUse, sweep, sweeps, campaigns }: SamplePaneProps) {
  const recipe = useDraft(shown.hash)?.present ?? shown.recipe
  const [scope, setScope] = useState<ScopeKind>('campaign')
  const [size, setSize] = useState<Size>('60')
  const [seed, setSeed] = useState(1)
  const [taken, setTaken] = useState<Taken | null>(null)
  const ask = useCommand('The sample could not be measured', (client, nextSeed: number) =>
    client.recipes.previewSample({ recipe, seed: nextSeed, count: Number(size), ...scopeOf(scope, sweep) }),
  )
  const hash = recipeHash(recipe)
  const run = async (nextSeed: number): Promise<void> => {
    setSeed(nextSeed)
    const sample = await ask.run(nextSeed)
    if (sample !== null) setTaken({ sample, hash, recipe, inUse })
  }
  const old = taken !== null && (taken.hash !== hash || taken.inUse.hash !== inUse.hash)
  return (
    <section className="sample-pane" aria-label="Sample">
      <div className="pane-form">
        <ScopeChoice
          label="Taken from"
          value={sweep === null ? 'all' : scope}
          onChange={setScope}
          sweep={sweep}
          campaigns={campaigns}
        />
        <div className="field field-fit">
          <span className="field-label">Captures</span>
          <Segmented label="Captures in the sample" value={size} choices={SIZES} onChange={setSize} />
        </div>
        <Action tone="main" isPending={ask.busy} onPress={() => void run(seed)}>
          {ask.busy ? 'Measuring…' : 'Measure a sample'}
        </Action>
      </div>
      {taken === null ? (
        <EmptyState title="Nothing measured yet">
          A spread sample is measured under the recipe in use and under the edited one. Nothing is stored.
        </EmptyState>
      ) : (
        // A scrolling region has to be reachable by keyboard.
        // oxlint-disable-next-line jsx-a11y/no-noninteractive-tabindex
        <div className="pane-scroll" tabIndex={0} role="group" aria-label="What the sample says">
          <p role="status">
            <strong>
              {count(taken.sample.captures.length)} of {plural(taken.sample.total, 'capture')}
            </strong>
            , seed {taken.sample.seed}.{' '}
            {old ? <span className="warn-text">▲ The recipe has changed since: measure again. </span> : null}
            <Action size="small" tone="quiet" isPending={ask.busy} onPress={() => void run(seed + 1)}>
              Draw another
            </Action>
          </p>
          <Report {...taken} sweeps={sweeps} />
        </div>
      )}
    </section>
  )
}

/** Whether a mean moved, or captures became defined or undefined. */
function hasMoved({ measure, difference, onlyA, onlyB }: MeasureShift): boolean {
  return isSeen(measure, difference) || onlyA + onlyB > 0
}

/** Redrawn for another sample only, not for every move of a slider beside it. */
const Report = memo(function Report(props: Taken & { readonly sweeps: readonly Sweep[] }) {
  const { sample, inUse, recipe, sweeps } = props
  const [chosen, setChosen] = useState<MatrixMeasure | null>(null)
  const all = compareSample(sample.captures, { measure: 'transition_duration_s' })
  const shown = all.measures.filter(({ measure: id }) => (MATRIX_MEASURES as readonly MeasureId[]).includes(id))
  const measure = chosen ?? shown.find(hasMoved)?.measure ?? 'transition_duration_s'
  const { cells, cellCount } = compareSample(sample.captures, { measure })
  const bySweep = sampledSweeps(sample.captures, measure, inUse.recipe, recipe)
  const { flagged, failed } = all
  return (
    <>
      <p>
        Doubtful captures: {flagged.a} under the recipe in use, {flagged.b} under the edited one.{' '}
        {all.flags
          .filter(({ a, b }) => a !== b)
          .map(({ flag, a, b }) => `${FLAG_WORDS[flag]} ${a} → ${b}`)
          .join(', ')}
        {failed.a + failed.b === 0 ? '' : ` Not measurable: ${failed.a} and ${failed.b}.`}
      </p>
      <p className="hint">Flags from comparing repeats appear once the recipe is applied.</p>
      <ComparedTable
        label="Means over the sample"
        heads={['Measure', 'In use', 'Edited', 'Difference ± U95', 'n', 'Undefined']}
      >
        {shown.map((shift) => (
          <tr key={shift.measure} data-moved={isSeen(shift.measure, shift.difference)}>
            <th scope="row">{matrixLabel(shift.measure)}</th>
            <td className="align-end digits">{meanText(shift.measure, shift.a)}</td>
            <td className="align-end digits">{meanText(shift.measure, shift.b)}</td>
            <td className="align-end digits">
              <Difference {...shift} />
            </td>
            <td className="align-end digits">{shift.n}</td>
            <td className="align-end digits">
              {shift.onlyA + shift.onlyB === 0 ? '' : `+${shift.onlyA} −${shift.onlyB}`}
            </td>
          </tr>
        ))}
      </ComparedTable>
      <p className="hint">
        Means and differences are of the n captures with a value under both. Undefined: +captures that lose their value,
        −captures that get one.
      </p>
      <div className="pane-form">
        <SelectInput
          label="Measure of the transitions and summaries below"
          value={MATRIX_MEASURES.find((id) => id === measure) ?? null}
          choices={MEASURE_CHOICES}
          onChange={setChosen}
        />
      </div>
      <h3>Transitions that change most, of {cellCount} in the sample</h3>
      {cells.length === 0 ? (
        <p className="hint">No transition in the sample changes.</p>
      ) : (
        <ComparedTable
          label="Transitions that would move most"
          heads={['Transition', 'In use', 'Edited', 'Difference', 'n']}
        >
          {cells.map((cell) => (
            <tr key={`${cell.sweepId} ${cell.from} ${cell.to}`}>
              <th scope="row">
                <a href={tracesOf(cell.sweepId, cell.from, cell.to)}>{pair(cell.from, cell.to)}</a>
                <span className="minor"> sweep {cell.sweepId}</span>
              </th>
              <td className="align-end digits">{meanText(measure, cell.a)}</td>
              <td className="align-end digits">{meanText(measure, cell.b)}</td>
              <td className="align-end digits">{differenceText(measure, cell.difference)}</td>
              <td className="align-end digits">{cell.n}</td>
            </tr>
          ))}
        </ComparedTable>
      )}
      {bySweep.map(({ sweepId, n, summaries }) => {
        const sweep = sweeps.find(({ id }) => id === sweepId)
        const name = sweep === undefined ? `Sweep ${sweepId}` : `Sweep ${sweepId}, ${sweep.plan.setting}`
        return (
          <details key={sweepId} open={bySweep.length === 1}>
            <summary>
              {name}: summary of {plural(n, 'capture')} of the sample
            </summary>
            <SummaryTable
              label={`Summary of the sample in sweep ${sweepId}`}
              measure={measure}
              summaries={summaries}
              oldHead="In use"
              newHead="Edited"
            />
          </details>
        )
      })}
    </>
  )
})
