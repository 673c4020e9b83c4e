import 'uplot/dist/uPlot.min.css'
import './plot.css'
import { memo, useEffect, useImperativeHandle, useState, type Ref } from 'react'
import { useStable } from '../ui/use-stable.ts'
import { cursorText, TraceChart, type TimeView } from './trace-chart.ts'
import type { CursorReading } from './trace-curve.ts'
import type { TraceScene } from './trace-scene.ts'
import { useChart } from './use-chart.ts'

export type { TimeView } from './trace-chart.ts'

export interface TracePlotHandle {
  show(scene: TraceScene | null): void
}

export interface TracePlotProps {
  readonly ref: Ref<TracePlotHandle>
  /** Everything the picture says, in words. */
  readonly description: string
  readonly view: TimeView
  readonly onView: (view: TimeView) => void
}

/** Mounts the chart once; scenes reach it through the handle, past React. */
export const TracePlot = memo(function TracePlot({ ref, description, view, onView }: TracePlotProps) {
  const [cursor, setCursor] = useState<CursorReading | null>(null)
  const reportView = useStable(onView)
  const { holder, chart } = useChart(
    (element, size, theme) => new TraceChart(element, size, theme, { onView: reportView, onCursor: setCursor }),
  )

  useEffect(() => chart.current?.setView(view), [chart, view])

  useImperativeHandle(ref, () => ({ show: (scene) => chart.current?.show(scene) }), [chart])

  return (
    <div className="trace-plot">
      <div ref={holder} className="trace-plot-canvas" role="img" aria-label={description} />
      <output className="trace-plot-cursor" aria-hidden="true">
        {cursor === null ? '' : cursorText(cursor)}
      </output>
    </div>
  )
})
