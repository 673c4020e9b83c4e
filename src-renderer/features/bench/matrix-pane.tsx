import { useMemo, useRef } from 'react'
import type { Sweep } from '#shared/domain/capture.ts'
import type { Recipe } from '#shared/domain/recipe.ts'
import type { MatrixData } from '#shared/domain/views.ts'
import { cellStatistics, repeatsExpected } from '#shared/findings/matrix.ts'
import { useCommand } from '../../client/use-command.ts'
import { Action } from '../../ui/controls.tsx'
import { SelectInput } from '../../ui/fields.tsx'
import { displayUnit, hertz, plural } from '../../ui/format.ts'
import { type Extent, extentOf, fixedScale } from '../../ui/measure-scale.ts'
import { MEASURE_CHOICES, type MatrixMeasure, matrixLabel } from '../../ui/measures-shown.ts'
import { useShortcut } from '../../ui/shortcuts.ts'
import { useStable } from '../../ui/use-stable.ts'
import { ExportMenu } from './export-menu.tsx'
import { MatrixGrid, type CellKey } from './matrix-grid.tsx'
import { type Pin, ScaleChoice, scaleUnder, usePins } from './scale-choice.tsx'

export interface MatrixPaneProps {
  readonly sweep: Sweep
  readonly data: MatrixData | null
  /** Why there are no data; empty while they are being read. */
  readonly problem: string
  readonly recipe: Recipe | null
  readonly recipeHash: string
  readonly measure: MatrixMeasure
  readonly onMeasure: (measure: MatrixMeasure) => void
  readonly selected: CellKey | null
  readonly current: CellKey | null
  readonly onOpen: (cell: CellKey) => void
}

export function MatrixPane(props: MatrixPaneProps) {
  const { sweep, data, measure, recipe, recipeHash } = props
  const holder = useRef<HTMLDivElement>(null)
  const [pins, setPin] = usePins()
  const cells = data === null ? [] : cellStatistics(data, measure, repeatsExpected(sweep))
  const levels = [...new Set([...sweep.plan.levels, ...cells.flatMap(({ from, to }) => [from, to])])].sort(
    (a, b) => a - b,
  )
  const pin = pins[measure] ?? 'fixed'
  // Of the values in view only where the person wants so: a new capture else leaves the scale as it is.
  const extent = pin === 'sweep' ? extentOf(cells.map((cell) => cell.mean)) : null
  const scale = useScale(measure, sweep.plan.refreshHz, recipe, pin, extent)
  const onPin = useStable((next: Pin) => setPin(measure, next))
  useShortcut('matrix', () => holder.current?.querySelector<HTMLElement>('[role=gridcell][tabindex="0"]')?.focus())

  const unit = displayUnit(measure)
  return (
    <section className="pane matrix-pane" aria-label="Matrix">
      <header className="pane-head">
        <div className="bare matrix-measure">
          <SelectInput label="Measure" value={measure} onChange={props.onMeasure} choices={MEASURE_CHOICES} />
        </div>
        {unit === '' ? null : <span className="matrix-unit">{unit}</span>}
        <span className="pane-space" />
        {scale === null ? null : <ScaleChoice measure={measure} scale={scale} pin={pin} onPin={onPin} />}
        <ExportMenu sweepId={sweep.id} recipeHash={recipeHash} />
      </header>
      {scale === null || props.problem !== '' ? (
        <p className="trace-empty">{props.problem === '' ? 'Reading…' : props.problem}</p>
      ) : (
        <div className="matrix-scroll" ref={holder} data-many={levels.length > 12}>
          <MatrixGrid
            label={`${matrixLabel(measure)}${unit === '' ? '' : `, ${unit}`}, sweep ${sweep.id}, ${sweep.plan.setting} at ${hertz(sweep.plan.refreshHz)} Hz`}
            levels={levels}
            cells={cells}
            measure={measure}
            scale={scale}
            hasUnmeasured={(data?.unmeasured ?? 0) > 0}
            selected={props.selected}
            current={props.current}
            onOpen={props.onOpen}
          />
        </div>
      )}
      <p className="trace-legend matrix-foot">
        <span>
          Mean over repeats, from rows to columns
          {scale?.limit === null || scale === null ? '.' : <Notch name={scale.limitName} />}
        </span>
        {data !== null && data.unmeasured > 0 ? (
          <MeasureNow sweepId={sweep.id} recipeHash={recipeHash} unmeasured={data.unmeasured} />
        ) : null}
      </p>
    </section>
  )
}

/** The same scale as long as what it is made of is the same, which the compiler does not see between the values. */
function useScale(measure: MatrixMeasure, refreshHz: number, recipe: Recipe | null, pin: Pin, extent: Extent | null) {
  return useMemo(
    () => (recipe === null ? null : scaleUnder(pin, fixedScale(measure, refreshHz, recipe), extent)),
    [measure, refreshHz, recipe, pin, extent],
  )
}

function Notch({ name }: { name: string }) {
  return (
    <>
      {'; '}
      <span className="notch-key" aria-hidden="true" /> outside {name}
    </>
  )
}

/** Stored captures have no result under the recipe of the screens until they are measured under it. */
export function MeasureNow(props: { sweepId: number; recipeHash: string; unmeasured: number }) {
  const { sweepId, recipeHash, unmeasured } = props
  const measure = useCommand('The captures could not be measured', (client) =>
    client.recipes.reanalyse({ recipeHash, sweepId }),
  )
  return (
    <span className="measure-now">
      <span className="warn-text">{plural(unmeasured, 'capture')} not measured under this recipe.</span>{' '}
      <Action size="small" tone="main" isPending={measure.busy} onPress={() => void measure.run()}>
        Measure now
      </Action>
    </span>
  )
}
