import 'uplot/dist/uPlot.min.css'
import './plot.css'
import { memo, useEffect, useImperativeHandle, useRef, useState, type Ref } from 'react'
import { currentTheme, useTheme } from '../ui/theme.ts'
import { readPlotTheme } from './plot-theme.ts'
import { cursorText, TraceChart, type TraceView } from './trace-chart.ts'
import type { CursorReading } from './trace-curve.ts'
import type { TraceScene } from './trace-scene.ts'

export type { TraceView } from './trace-chart.ts'

export interface TracePlotHandle {
  show(scene: TraceScene | null): void
  /** Device pixels across the plotting area, 0 before the first layout. */
  columns(): number
}

export interface TracePlotProps {
  readonly ref: Ref<TracePlotHandle>
  /** Everything the picture says, in words. */
  readonly description: string
  readonly view: TraceView
  readonly onView: (view: TraceView) => void
}

/** Mounts the chart once; scenes reach it through the handle, past React. */
export const TracePlot = memo(function TracePlot({ ref, description, view, onView }: TracePlotProps) {
  const holder = useRef<HTMLDivElement>(null)
  const chart = useRef<TraceChart | null>(null)
  const report = useRef(onView)
  const [cursor, setCursor] = useState<CursorReading | null>(null)
  const theme = useTheme()

  useEffect(() => {
    report.current = onView
  }, [onView])

  useEffect(() => {
    const element = holder.current
    if (element === null) return undefined
    const size = () => ({ width: element.clientWidth, height: element.clientHeight })
    const made = new TraceChart(element, size(), readPlotTheme(element, currentTheme()), {
      onView: (next) => report.current(next),
      onCursor: setCursor,
    })
    chart.current = made
    const observer = new ResizeObserver(() => made.resize(size()))
    observer.observe(element)
    return () => {
      observer.disconnect()
      chart.current = null
      made.destroy()
    }
  }, [])

  useEffect(() => {
    if (holder.current !== null) chart.current?.setTheme(readPlotTheme(holder.current, theme))
  }, [theme])

  useEffect(() => chart.current?.setView(view), [view])

  useImperativeHandle(
    ref,
    () => ({
      show: (scene) => chart.current?.show(scene),
      columns: () => chart.current?.columns() ?? 0,
    }),
    [],
  )

  return (
    <div className="trace-plot">
      <div ref={holder} className="trace-plot-canvas" role="img" aria-label={description} />
      <output className="trace-plot-cursor" aria-hidden="true">
        {cursor === null ? '' : cursorText(cursor)}
      </output>
    </div>
  )
})
