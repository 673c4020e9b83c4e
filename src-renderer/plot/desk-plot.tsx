import 'uplot/dist/uPlot.min.css'
import './plot.css'
import { memo, useEffect, useImperativeHandle, useRef, useState, type KeyboardEvent, type Ref } from 'react'
import { Held } from '../ui/held.ts'
import { useStable } from '../ui/use-stable.ts'
import {
  DeskChart,
  LEAST_MS,
  LEAST_V,
  spansOf,
  voltLimits,
  WHOLE_EDGE,
  type DeskView,
  type DragMode,
  type PlotLayout,
} from './desk-chart.ts'
import type { DeskScene } from './desk-scene.ts'
import { PlotHandles, type PlotHandle } from './plot-handles.tsx'
import { cursorText } from './trace-chart.ts'
import type { CursorReading } from './trace-curve.ts'
import { useChart } from './use-chart.ts'
import { panBy, zoomAbout } from './view-moves.ts'

export type { DeskView, DragMode } from './desk-chart.ts'
export type { PlotHandle } from './plot-handles.tsx'

export interface DeskPlotHandle {
  focus(): void
}

export interface DeskPlotProps {
  readonly ref: Ref<DeskPlotHandle>
  readonly scene: DeskScene | null
  readonly view: DeskView
  readonly drag: DragMode
  readonly handles: readonly PlotHandle[]
  readonly sampleMs: number
  readonly description: string
  readonly onView: (view: DeskView) => void
  readonly onMove: (id: string, ms: number) => void
  /** Device pixels across the plotting area. */
  readonly onColumns: (columns: number) => void
}

/** The large plot: wheel, drag, box and keys move the view; handles lie over it. */
export const DeskPlot = memo(function DeskPlot({ ref, ...props }: DeskPlotProps) {
  const { scene, view, drag, handles, onView, onColumns } = props
  const frame = useRef<HTMLDivElement>(null)
  const [layout] = useState(() => new Held<PlotLayout | null>(null))
  const [cursor, setCursor] = useState<CursorReading | null>(null)
  const reportView = useStable(onView)
  const reportLayout = useStable((next: PlotLayout) => {
    layout.set(next)
    onColumns(Math.round(next.width * devicePixelRatio))
  })
  const { holder, chart } = useChart(
    (element, size, theme) =>
      new DeskChart(element, size, theme, { onView: reportView, onLayout: reportLayout, onCursor: setCursor }),
  )
  useEffect(() => chart.current?.setView(view), [chart, view])
  useEffect(() => chart.current?.show(scene), [chart, scene])
  useEffect(() => chart.current?.setDrag(drag), [chart, drag])
  useImperativeHandle(ref, () => ({ focus: () => frame.current?.focus() }), [])

  const onKeyDown = (event: KeyboardEvent) => {
    if (scene === null || event.target !== event.currentTarget) return
    const next = keyedView(event, scene, view)
    if (next === null) return
    event.preventDefault()
    onView(next)
  }
  return (
    <div
      ref={frame}
      className="desk-plot"
      role="application"
      aria-roledescription="plot"
      aria-label={`${props.description}. Arrow keys move the view, plus and minus zoom in and out, 0 goes back to the edge.`}
      tabIndex={0}
      onKeyDown={onKeyDown}
    >
      <div ref={holder} className="trace-plot-canvas" />
      {scene === null || handles.length === 0 ? null : (
        <PlotHandles
          layout={layout}
          limitsMs={scene.base.recordMs}
          sampleMs={props.sampleMs}
          handles={handles}
          onMove={props.onMove}
        />
      )}
      <output className="trace-plot-cursor" aria-hidden="true">
        {cursor === null ? '' : cursorText(cursor)}
      </output>
    </div>
  )
})

/** The view a key leads to; null when the key is not the plot's. */
function keyedView(event: KeyboardEvent, scene: DeskScene, view: DeskView): DeskView | null {
  if (event.ctrlKey || event.metaKey || event.altKey) return null
  const { x, y } = spansOf(scene.base, view)
  const { recordMs } = scene.base
  const share = event.shiftKey ? 0.5 : 0.1
  const middle = (x[0] + x[1]) / 2
  const level = (y[0] + y[1]) / 2
  switch (event.key) {
    case 'ArrowLeft':
      return { ...view, x: panBy(x, -share, recordMs) }
    case 'ArrowRight':
      return { ...view, x: panBy(x, share, recordMs) }
    case 'ArrowUp':
      return { ...view, y: panBy(y, share, voltLimits(scene.base)) }
    case 'ArrowDown':
      return { ...view, y: panBy(y, -share, voltLimits(scene.base)) }
    case '+':
    case '=':
      return { ...view, x: zoomAbout(x, 1 / 1.5, middle, recordMs, LEAST_MS) }
    case '-':
      return { ...view, x: zoomAbout(x, 1.5, middle, recordMs, LEAST_MS) }
    case 'PageUp':
      return { ...view, y: zoomAbout(y, 1 / 1.5, level, voltLimits(scene.base), LEAST_V) }
    case 'PageDown':
      return { ...view, y: zoomAbout(y, 1.5, level, voltLimits(scene.base), LEAST_V) }
    case '0':
    case 'Home':
      return WHOLE_EDGE
    case 'End':
      return { x: 'record', y: null }
    default:
      return null
  }
}
