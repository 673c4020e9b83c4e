/** The one chart of a trace: built once, then told what to show. React never owns its data. */
import uPlot from 'uplot'
import { milliseconds, significant } from '../ui/format.ts'
import { BARE_RIGHT_PX, RIGHT_GUTTER_PX, TOP_GUTTER_PX } from './plot-axes.ts'
import { paintMarks, paintUnder } from './trace-painter.ts'
import type { PlotTheme } from './plot-theme.ts'
import { EMPTY, envelopeOptions, paintTrace, readingAt, type CursorReading } from './trace-curve.ts'
import type { TraceScene } from './trace-scene.ts'
import type { SelfDrawn, Size } from './use-chart.ts'

/** Part of the record in view: the edge, everything, or a span in ms from the origin. */
export type TimeView = 'edge' | 'record' | readonly [number, number]

export interface TraceChartEvents {
  readonly onView: (view: TimeView) => void
  readonly onCursor: (reading: CursorReading | null) => void
}

/** Shortest span that dragging may select, ms. */
const SHORTEST_VIEW_MS = 0.02

export class TraceChart implements SelfDrawn {
  readonly #plot: uPlot
  readonly #events: TraceChartEvents
  #theme: PlotTheme
  #scene: TraceScene | null = null
  #view: TimeView = 'edge'
  /** There is something to name in the gutters. */
  #named = false

  constructor(target: HTMLElement, size: Size, theme: PlotTheme, events: TraceChartEvents) {
    this.#theme = theme
    this.#events = events
    this.#plot = new uPlot(this.#options(size), EMPTY, target)
  }

  show(scene: TraceScene | null): void {
    this.#scene = scene
    this.#apply()
  }

  setView(view: TimeView): void {
    this.#view = view
    this.#apply()
  }

  setTheme(theme: PlotTheme): void {
    this.#theme = theme
    this.#plot.redraw(false, true)
  }

  resize(size: Size): void {
    this.#plot.setSize(size)
  }

  destroy(): void {
    this.#plot.destroy()
  }

  #span(scene: TraceScene): readonly [number, number] {
    if (this.#view === 'edge') return scene.edgeMs
    if (this.#view === 'record') return scene.recordMs
    return this.#view
  }

  #apply(): void {
    const scene = this.#scene
    const named = scene !== null && scene.levels.length + scene.points.length + scene.instants.length > 0
    const moved = named !== this.#named
    this.#named = named
    this.#plot.batch(() => {
      this.#plot.setData(scene === null ? EMPTY : [scene.x, scene.min, scene.max], false)
      const [min, max] = scene === null ? [0, 1] : this.#span(scene)
      this.#plot.setScale('x', { min, max })
      const [low, high] = scene === null ? [0, 1] : scene.voltsRange
      this.#plot.setScale('y', { min: low, max: high })
    })
    // Equal scales leave the old drawing in place; marks may have moved all the same.
    this.#plot.redraw(true, moved)
  }

  #options(size: Size): uPlot.Options {
    return {
      ...size,
      padding: [() => (this.#named ? TOP_GUTTER_PX : 6), () => (this.#named ? RIGHT_GUTTER_PX : BARE_RIGHT_PX), 0, 0],
      ...envelopeOptions(() => this.#theme),
      cursor: {
        points: { show: false },
        y: false,
        drag: { x: true, y: false, setScale: false, dist: 4 },
        bind: {
          dblclick: () => () => {
            this.setView('edge')
            this.#events.onView('edge')
            return null
          },
        },
      },
      hooks: {
        drawClear: [(plot) => paintUnder(plot, this.#scene, this.#theme)],
        draw: [
          (plot) => paintTrace(plot, this.#scene, this.#theme),
          (plot) => paintMarks(plot, this.#scene, this.#theme),
        ],
        setSelect: [(plot) => this.#zoomTo(plot)],
        setCursor: [(plot) => this.#events.onCursor(readingAt(plot, this.#scene))],
      },
    }
  }

  #zoomTo(plot: uPlot): void {
    const { left, width } = plot.select
    if (width <= 0) return
    const min = plot.posToVal(left, 'x')
    const max = plot.posToVal(left + width, 'x')
    plot.setSelect({ left: 0, top: 0, width: 0, height: 0 }, false)
    if (max - min < SHORTEST_VIEW_MS) return
    this.setView([min, max])
    this.#events.onView([min, max])
  }
}

/** The cursor's place in words: time and, on a second line, volts. */
export function cursorText(reading: CursorReading): string {
  const [low, high] = [significant(reading.minV, 4), significant(reading.maxV, 4)]
  const spread = low === high ? low : `${low} … ${high}`
  return `${milliseconds(reading.ms / 1000)} ms\n${spread} V`
}
