/** The large chart of the trace desk: told what to show and which part of it; says what the pointer asks for. */
import uPlot from 'uplot'
import { namesAbove, paintDeskOver, paintDeskUnder, rowsPxOf } from './desk-painter.ts'
import type { DeskScene } from './desk-scene.ts'
import { RIGHT_GUTTER_PX, TOP_GUTTER_PX } from './plot-axes.ts'
import type { PlotTheme } from './plot-theme.ts'
import { EMPTY, envelopeOptions, paintTrace, readingAt, type CursorReading } from './trace-curve.ts'
import type { TraceScene } from './trace-scene.ts'
import { paintMarks, paintUnder } from './trace-painter.ts'
import type { SelfDrawn, Size } from './use-chart.ts'
import { panBy, zoomAbout, type Span } from './view-moves.ts'

/** Time in view, and volts where the operator chose them. */
export interface DeskView {
  readonly x: 'edge' | 'record' | Span
  readonly y: Span | null
}
export const WHOLE_EDGE: DeskView = { x: 'edge', y: null }

/** What dragging on the plot does; with Shift held it is the other one. */
export type DragMode = 'pan' | 'box'

/** Plotting area in CSS px within the chart, and the scales it spans. */
export interface PlotLayout {
  readonly left: number
  readonly top: number
  readonly width: number
  readonly height: number
  /** Height of the rows above the plotting area in which cursors have their names, CSS px. */
  readonly rowsPx: number
  readonly x: Span
  readonly y: Span
}

export interface DeskChartEvents {
  readonly onView: (view: DeskView) => void
  readonly onLayout: (layout: PlotLayout) => void
  readonly onCursor: (reading: CursorReading | null) => void
}

/** Shortest spans that can be looked at: 1 µs, 10 µV. */
export const LEAST_MS = 0.001
export const LEAST_V = 0.00001
/** A box flatter than this many px looks closer in time only. */
const FLAT_BOX_PX = 14
const LEAST_DRAG_PX = 4
const WHEEL_STEP = 1.18

/** Spans a view comes to on a scene. */
export function spansOf(scene: TraceScene, view: DeskView): { readonly x: Span; readonly y: Span } {
  const x = view.x === 'edge' ? scene.edgeMs : view.x === 'record' ? scene.recordMs : view.x
  return { x, y: view.y ?? scene.voltsRange }
}

export class DeskChart implements SelfDrawn {
  readonly #plot: uPlot
  readonly #events: DeskChartEvents
  readonly #release: () => void
  #theme: PlotTheme
  #scene: DeskScene | null = null
  #view: DeskView = WHOLE_EDGE
  #drag: DragMode = 'pan'
  #layout = ''

  constructor(target: HTMLElement, size: Size, theme: PlotTheme, events: DeskChartEvents) {
    this.#theme = theme
    this.#events = events
    this.#plot = new uPlot(this.#options(size), EMPTY, target)
    this.#release = this.#listen(this.#plot.over, target.parentElement ?? target)
  }

  show(scene: DeskScene | null): void {
    const rowsBefore = rowsPxOf(this.#scene)
    this.#scene = scene
    this.#apply(true, rowsPxOf(scene) !== rowsBefore)
  }

  setView(view: DeskView): void {
    this.#view = view
    this.#apply(false)
  }

  setDrag(mode: DragMode): void {
    this.#drag = mode
  }

  setTheme(theme: PlotTheme): void {
    this.#theme = theme
    this.#plot.redraw(false, true)
  }

  resize(size: Size): void {
    this.#plot.setSize(size)
  }

  destroy(): void {
    this.#release()
    this.#plot.destroy()
  }

  #apply(newData: boolean, newRows = false): void {
    const scene = this.#scene
    const { x, y } = scene === null ? { x: [0, 1] as const, y: [0, 1] as const } : spansOf(scene.base, this.#view)
    this.#plot.batch(() => {
      if (newData) {
        const data: uPlot.AlignedData = scene === null ? EMPTY : [scene.curve.x, scene.curve.min, scene.curve.max]
        this.#plot.setData(data, false)
      }
      this.#plot.setScale('x', { min: x[0], max: x[1] })
      this.#plot.setScale('y', { min: y[0], max: y[1] })
    })
    // Equal scales leave the old drawing in place; marks may have moved all the same.
    if (newData) this.#plot.redraw(true, newRows)
  }

  #options(size: Size): uPlot.Options {
    return {
      ...size,
      padding: [() => TOP_GUTTER_PX + rowsPxOf(this.#scene), RIGHT_GUTTER_PX, 0, 0],
      ...envelopeOptions(() => this.#theme),
      cursor: { points: { show: false }, y: false, drag: { x: false, y: false, setScale: false } },
      hooks: {
        drawClear: [(plot) => this.#under(plot)],
        draw: [(plot) => this.#over(plot)],
        setCursor: [(plot) => this.#events.onCursor(readingAt(plot, this.#scene?.curve ?? null))],
      },
    }
  }

  #under(plot: uPlot): void {
    if (this.#scene === null) return
    paintUnder(plot, this.#scene.base, this.#theme)
    paintDeskUnder(plot, this.#scene, this.#theme)
  }

  #over(plot: uPlot): void {
    if (this.#scene !== null) {
      paintTrace(plot, this.#scene.curve, this.#theme)
      paintMarks(plot, this.#scene.base, this.#theme, namesAbove(plot, this.#scene, this.#theme), rowsPxOf(this.#scene))
      paintDeskOver(plot, this.#scene, this.#theme)
    }
    const ratio = uPlot.pxRatio
    const { left, top, width, height } = plot.bbox
    const span = (scale: uPlot.Scale | undefined): Span => [scale?.min ?? 0, scale?.max ?? 1]
    const layout: PlotLayout = {
      left: left / ratio,
      top: top / ratio,
      width: width / ratio,
      height: height / ratio,
      rowsPx: rowsPxOf(this.#scene),
      x: span(plot.scales['x']),
      y: span(plot.scales['y']),
    }
    const text = JSON.stringify(layout)
    if (text === this.#layout) return
    this.#layout = text
    this.#events.onLayout(layout)
  }

  /** The wheel is heard over the handles as well, which lie on the plot beside its own element. */
  #listen(over: HTMLElement, frame: HTMLElement): () => void {
    const controller = new AbortController()
    const { signal } = controller
    over.addEventListener('pointerdown', (event) => this.#startDrag(over, event), { signal })
    frame.addEventListener('wheel', (event) => this.#wheel(over, event), { signal, passive: false })
    over.addEventListener('dblclick', () => this.#events.onView(WHOLE_EDGE), { signal })
    return () => controller.abort()
  }

  #wheel(over: HTMLElement, event: WheelEvent): void {
    const scene = this.#scene
    if (scene === null || event.ctrlKey) return
    event.preventDefault()
    const { left, top } = over.getBoundingClientRect()
    const { x, y } = spansOf(scene.base, this.#view)
    const factor = event.deltaY === 0 ? 1 : event.deltaY < 0 ? 1 / WHEEL_STEP : WHEEL_STEP
    if (event.deltaX !== 0 && event.deltaY === 0) {
      this.#events.onView({ ...this.#view, x: panBy(x, Math.sign(event.deltaX) * 0.08, scene.base.recordMs) })
    } else if (event.altKey) {
      const about = this.#plot.posToVal(event.clientY - top, 'y')
      this.#events.onView({ ...this.#view, y: zoomAbout(y, factor, about, voltLimits(scene.base), LEAST_V) })
    } else {
      const about = this.#plot.posToVal(event.clientX - left, 'x')
      this.#events.onView({ ...this.#view, x: zoomAbout(x, factor, about, scene.base.recordMs, LEAST_MS) })
    }
  }

  /** Follows the pointer until it is let go: moves the view, or draws a box and looks into it. */
  #startDrag(over: HTMLElement, start: PointerEvent): void {
    const scene = this.#scene
    if (scene === null || start.button !== 0) return
    const boxing = (this.#drag === 'box') !== start.shiftKey
    const from = { x: start.offsetX, y: start.offsetY }
    const view = this.#view
    const spans = spansOf(scene.base, view)
    const { width, height } = over.getBoundingClientRect()
    const controller = new AbortController()
    const { signal } = controller
    over.setPointerCapture(start.pointerId)
    const move = (event: PointerEvent) => {
      if (boxing) {
        const flat = Math.abs(event.offsetY - from.y) < FLAT_BOX_PX
        this.#plot.setSelect(
          {
            left: Math.min(from.x, event.offsetX),
            width: Math.abs(event.offsetX - from.x),
            top: flat ? 0 : Math.min(from.y, event.offsetY),
            height: flat ? height : Math.abs(event.offsetY - from.y),
          },
          false,
        )
        return
      }
      const x = panBy(spans.x, (from.x - event.offsetX) / width, scene.base.recordMs)
      const y = view.y === null ? null : panBy(view.y, (event.offsetY - from.y) / height, voltLimits(scene.base))
      this.#events.onView({ x, y })
    }
    const end = (event: PointerEvent) => {
      controller.abort()
      if (boxing && event.type === 'pointerup') this.#lookInto(from, { x: event.offsetX, y: event.offsetY })
      this.#plot.setSelect({ left: 0, top: 0, width: 0, height: 0 }, false)
    }
    over.addEventListener('pointermove', move, { signal })
    over.addEventListener('pointerup', end, { signal })
    over.addEventListener('pointercancel', end, { signal })
  }

  #lookInto(a: { x: number; y: number }, b: { x: number; y: number }): void {
    if (Math.abs(a.x - b.x) < LEAST_DRAG_PX) return
    const sorted = (p: number, q: number): Span => (p < q ? [p, q] : [q, p])
    const x = sorted(this.#plot.posToVal(a.x, 'x'), this.#plot.posToVal(b.x, 'x'))
    if (x[1] - x[0] < LEAST_MS) return
    const flat = Math.abs(a.y - b.y) < FLAT_BOX_PX
    const y = sorted(this.#plot.posToVal(a.y, 'y'), this.#plot.posToVal(b.y, 'y'))
    this.#events.onView({ x, y: flat ? this.#view.y : y })
  }
}

/** Volts that can be looked at: the curve's own range widened to the input's limits. */
export function voltLimits(scene: TraceScene): Span {
  const range = scene.rangeV ?? 0
  return [Math.min(scene.voltsRange[0], -range), Math.max(scene.voltsRange[1], range)]
}
