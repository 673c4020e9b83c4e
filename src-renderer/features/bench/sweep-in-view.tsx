/** The sweep in view: its headline, its matrix, and beside it what is chosen or the newest capture. */
import { useDeferredValue, useState } from 'react'
import type { RetakeEntry } from '#shared/domain/desk.ts'
import type { Sweep } from '#shared/domain/capture.ts'
import type { Recipe } from '#shared/domain/recipe.ts'
import { SUMMARY_MEASURES } from '#shared/findings/summary.ts'
import { describeError } from '../../client/errors.ts'
import { useMatrix } from '../../client/queries.ts'
import { MATRIX_MEASURES, type MatrixMeasure } from '../../ui/measures-shown.ts'
import { ChosenPane, typicalCapture } from './chosen-pane.tsx'
import { Headline } from './headline.tsx'
import type { CellKey } from './matrix-grid.tsx'
import { MatrixPane } from './matrix-pane.tsx'

export interface Selection {
  readonly sweepId: number | null
  readonly cell: CellKey | null
  /** Null shows the capture nearest to the cell's mean. */
  readonly captureId: number | null
}
export const NOTHING: Selection = { sweepId: null, cell: null, captureId: null }

export interface SweepInViewProps {
  readonly sweep: Sweep
  readonly running: boolean
  /** The transition being captured. */
  readonly current: CellKey | null
  readonly recipe: Recipe | null
  readonly recipeHash: string
  readonly measure: MatrixMeasure
  readonly onMeasure: (measure: MatrixMeasure) => void
  readonly selection: Selection
  readonly onSelect: (selection: Selection) => void
  readonly retakes: readonly RetakeEntry[]
  readonly retakeObstacle: string
  readonly busy: boolean
  readonly onRetake: (sweepId: number) => void
}

export function SweepInView(props: SweepInViewProps) {
  const { sweep, running, recipe, recipeHash, measure, onMeasure, selection, onSelect } = props
  const [tab, setTab] = useState('log')
  // While it runs no more than is shown: the answer grows with the sweep and is read again every second.
  const measures = running ? [...new Set([...SUMMARY_MEASURES, measure])] : MATRIX_MEASURES
  const matrix = useMatrix(sweep.id, recipeHash, measures, { keep: true })
  // Headline and matrix grow with the sweep: they are drawn in the pauses of what must follow at once.
  const data = useDeferredValue(matrix.data ?? null)
  // What was chosen in another sweep means nothing in this one.
  const chosen = selection.sweepId === sweep.id ? selection : NOTHING
  const captureId = chosen.cell === null ? null : (chosen.captureId ?? typicalCapture(data, chosen.cell, measure))
  const openCell = (cell: CellKey) => onSelect({ sweepId: sweep.id, cell, captureId: null })
  return (
    <>
      <Headline
        sweep={sweep}
        running={running}
        data={data}
        recipe={recipe}
        onOpen={(cell, of) => {
          onMeasure(of)
          openCell(cell)
        }}
      />
      <div className="bench-lower">
        <MatrixPane
          sweep={sweep}
          data={data}
          problem={matrix.error === null ? '' : describeError(matrix.error).message}
          recipe={recipe}
          recipeHash={recipeHash}
          measure={measure}
          onMeasure={onMeasure}
          selected={chosen.cell}
          current={props.current}
          onOpen={openCell}
        />
        <ChosenPane
          sweep={sweep}
          running={running}
          data={data}
          recipe={recipe}
          recipeHash={recipeHash}
          measure={measure}
          cell={chosen.cell}
          captureId={captureId}
          onCell={openCell}
          onCapture={(id) => onSelect({ ...chosen, captureId: id })}
          onBack={() => onSelect(NOTHING)}
          tab={tab}
          onTab={setTab}
          retakes={{
            retakes: props.retakes,
            obstacle: props.retakeObstacle,
            busy: props.busy,
            onRun: props.onRetake,
          }}
        />
      </div>
    </>
  )
}
