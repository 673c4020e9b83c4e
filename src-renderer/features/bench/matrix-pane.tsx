import { useCallback, useMemo, useRef } from 'react'
import type { Sweep } from '#shared/domain/capture.ts'
import { cellStatistics, repeatsExpected } from '#shared/findings/matrix.ts'
import { describeError } from '../../client/errors.ts'
import { useMatrix } from '../../client/queries.ts'
import { css, cividis, extentOf, type RampScale } from '../../ui/colour-ramp.ts'
import { EmptyState } from '../../ui/controls.tsx'
import { SelectInput } from '../../ui/fields.tsx'
import { displayUnit, hertz, shortMeasure } from '../../ui/format.ts'
import { RampLegend } from '../../ui/matrix-table.tsx'
import { useShortcut } from '../../ui/shortcuts.ts'
import { useTheme } from '../../ui/theme.ts'
import { ExportMenu } from './export-menu.tsx'
import { MatrixGrid, type CellKey } from './matrix-grid.tsx'
import { MATRIX_MEASURES, MEASURE_CHOICES, type MatrixMeasure, matrixLabel } from '../../ui/measures-shown.ts'

/** Share of cividis used on dark screens: its upper end would light up a dark room. */
const DARK_REACH = 0.62

export interface MatrixPaneProps {
  readonly sweep: Sweep | null
  readonly recipeHash: string
  readonly recipeName: string
  readonly measure: MatrixMeasure
  readonly onMeasure: (measure: MatrixMeasure) => void
  readonly selected: CellKey | null
  readonly current: CellKey | null
  readonly onOpen: (cell: CellKey) => void
}

export function MatrixPane(props: MatrixPaneProps) {
  const { sweep, measure, recipeHash } = props
  const holder = useRef<HTMLDivElement>(null)
  const theme = useTheme()
  const matrix = useMatrix(sweep?.id ?? null, recipeHash, MATRIX_MEASURES)
  const data = matrix.data ?? null
  const repeats = sweep === null ? null : repeatsExpected(sweep)
  const cells = useMemo(() => (data === null ? [] : cellStatistics(data, measure, repeats)), [data, measure, repeats])
  const levels = useMemo(
    () =>
      [...new Set([...(sweep?.plan.levels ?? []), ...cells.flatMap(({ from, to }) => [from, to])])].sort(
        (a, b) => a - b,
      ),
    [sweep, cells],
  )
  const scale = useMemo((): RampScale | null => {
    const extent = extentOf(cells.map((cell) => cell.mean))
    return extent === null ? null : { ...extent, reach: theme === 'dark' ? DARK_REACH : 1 }
  }, [cells, theme])
  const focusGrid = useCallback(
    () => holder.current?.querySelector<HTMLElement>('[role=gridcell][tabindex="0"]')?.focus(),
    [],
  )
  useShortcut('matrix', focusGrid, sweep !== null)

  const unit = displayUnit(measure)
  const sum = (pick: (cell: (typeof cells)[number]) => number) => cells.reduce((total, cell) => total + pick(cell), 0)
  const excluded = sum((cell) => cell.excluded)
  const flagged = sum((cell) => cell.flagged)
  const missing = sum((cell) => cell.missing ?? 0)
  const without = sum((cell) => cell.withoutValue)
  return (
    <section className="matrix-pane" aria-label="Matrix">
      <header className="pane-head">
        <h2>Matrix</h2>
        <div className="matrix-measure">
          <SelectInput label="Measure" value={measure} onChange={props.onMeasure} choices={MEASURE_CHOICES} />
        </div>
        {unit === '' ? null : <span className="matrix-unit">{unit}</span>}
        <span className="pane-space" />
        {scale === null ? null : <Legend scale={scale} measure={measure} unit={unit} />}
        {sweep === null ? null : <ExportMenu sweepId={sweep.id} recipeHash={recipeHash} />}
      </header>
      {sweep === null ? (
        <EmptyState title="Nothing to show yet">
          Start a sweep, or choose one of the campaign’s sweeps. Each finished capture appears here at once.
        </EmptyState>
      ) : matrix.error !== null ? (
        <EmptyState title="The matrix could not be read">{describeError(matrix.error).message}</EmptyState>
      ) : (
        <>
          <div className="matrix-scroll" ref={holder}>
            <MatrixGrid
              label={`${matrixLabel(measure)}${unit === '' ? '' : `, ${unit}`}, sweep ${sweep.id}, ${sweep.plan.setting} at ${hertz(sweep.plan.refreshHz)} Hz`}
              levels={levels}
              cells={cells}
              measure={measure}
              scale={scale}
              selected={props.selected}
              current={props.current}
              onOpen={props.onOpen}
            />
          </div>
          <p className="matrix-foot">
            <span className="matrix-recipe">Mean over repeats, recipe “{props.recipeName}”.</span>
            <span>
              {sweep.origin === 'imported'
                ? `${sweep.total - sweep.done} of ${sweep.total} recordings not in it`
                : `${missing} to come or missing`}
            </span>
            <span className={flagged > 0 ? 'warn-text' : ''}>⚑ {flagged} flagged</span>
            <span className={excluded > 0 ? 'warn-text' : ''}>− {excluded} excluded</span>
            {without > 0 ? <span className="warn-text">{without} undefined</span> : null}
            {data !== null && data.unmeasured > 0 ? (
              <span className="warn-text">{data.unmeasured} not measured under this recipe</span>
            ) : null}
          </p>
        </>
      )}
    </section>
  )
}

function Legend({ scale, measure, unit }: { scale: RampScale; measure: MatrixMeasure; unit: string }) {
  const stops = Array.from({ length: 9 }, (_, i) => css(cividis((i / 8) * scale.reach)))
  const [low, high] = [shortMeasure(measure, scale.min), `${shortMeasure(measure, scale.max)} ${unit}`.trim()]
  return <RampLegend label={`Colour scale from ${low} to ${high}`} from={low} to={high} stops={stops} />
}
