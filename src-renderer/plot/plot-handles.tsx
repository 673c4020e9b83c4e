import { useRef, type CSSProperties, type KeyboardEvent, type PointerEvent } from 'react'
import { useHeld, type Held } from '../ui/held.ts'
import type { PlotLayout } from './desk-chart.ts'

/** An instant on the plot that can be moved: a cursor, or a mark moved by hand. */
export interface PlotHandle {
  readonly id: string
  /** One or two characters on the handle. */
  readonly mark: string
  readonly label: string
  readonly ms: number
  /** Its reading in words, with units. */
  readonly text: string
  readonly tone: 'a' | 'b' | 'mark'
  /** Where its tag stands: in the row above the plot, or in rows from below, so that tags at one instant stay apart. */
  readonly row: 'above' | number
}

export interface PlotHandlesProps {
  /** Where the plotting area is and what it spans; null until it was drawn. */
  readonly layout: Held<PlotLayout | null>
  readonly limitsMs: readonly [number, number]
  /** Interval of the samples, the smallest step, ms. */
  readonly sampleMs: number
  readonly handles: readonly PlotHandle[]
  readonly onMove: (id: string, ms: number) => void
}

/** Height of a handle's mark, px. */
const TAG_PX = 22

/**
 * Handles over the plot, each a slider: dragged, or moved by arrow keys one pixel at a time (Shift: ten, Ctrl: one
 * sample). A handle outside the view stays at its border, pointing outward.
 */
export function PlotHandles({ layout: held, limitsMs, sampleMs, handles, onMove }: PlotHandlesProps) {
  const layout = useHeld(held)
  if (layout === null) return null
  const pixelMs = (layout.x[1] - layout.x[0]) / Math.max(1, layout.width)
  const clamp = (ms: number) => Math.min(limitsMs[1], Math.max(limitsMs[0], ms))
  return (
    <div
      className="plot-handles"
      style={{ left: layout.left, top: layout.top, width: layout.width, height: layout.height }}
    >
      {handles.map((handle) => (
        <Handle
          key={handle.id}
          handle={handle}
          left={(handle.ms - layout.x[0]) / pixelMs}
          width={layout.width}
          height={layout.height}
          rowsPx={layout.rowsPx}
          limitsMs={limitsMs}
          onDrag={(px, from) => onMove(handle.id, clamp(from + px * pixelMs))}
          onStep={(steps, fine) => onMove(handle.id, clamp(handle.ms + steps * (fine ? sampleMs : pixelMs)))}
          onEnd={(last) => onMove(handle.id, last ? limitsMs[1] : limitsMs[0])}
        />
      ))}
    </div>
  )
}

interface HandleProps {
  readonly handle: PlotHandle
  /** px from the left of the plotting area, and its width. */
  readonly left: number
  readonly width: number
  readonly height: number
  readonly rowsPx: number
  readonly limitsMs: readonly [number, number]
  /** px moved since the pointer went down, and where the handle was then. */
  readonly onDrag: (px: number, fromMs: number) => void
  readonly onStep: (steps: number, fine: boolean) => void
  readonly onEnd: (last: boolean) => void
}

function Handle({ handle, left, width, height, rowsPx, limitsMs, onDrag, onStep, onEnd }: HandleProps) {
  const grip = useRef<{ readonly x: number; readonly ms: number } | null>(null)
  const outside = left < 0 ? 'before' : left > width ? 'after' : null
  const style: CSSProperties & { readonly '--line-from'?: string } = {
    left: Math.min(width, Math.max(0, left)),
    ...(handle.row === 'above'
      ? { insetBlockStart: -rowsPx, height: height + rowsPx, '--line-from': `${rowsPx}px` }
      : {}),
  }
  const onKeyDown = (event: KeyboardEvent) => {
    const steps = { ArrowLeft: -1, ArrowRight: 1, ArrowDown: -1, ArrowUp: 1, PageDown: -50, PageUp: 50 }[event.key]
    if (steps !== undefined) onStep(event.shiftKey ? steps * 10 : steps, event.ctrlKey)
    else if (event.key === 'Home' || event.key === 'End') onEnd(event.key === 'End')
    else return
    event.preventDefault()
    event.stopPropagation()
  }
  const onPointerDown = (event: PointerEvent<HTMLElement>) => {
    if (event.button !== 0) return
    event.currentTarget.setPointerCapture(event.pointerId)
    grip.current = { x: event.clientX, ms: handle.ms }
  }
  const onPointerMove = (event: PointerEvent<HTMLElement>) => {
    if (grip.current !== null) onDrag(event.clientX - grip.current.x, grip.current.ms)
  }
  const letGo = () => {
    grip.current = null
  }
  return (
    <div
      className={`plot-handle plot-handle-${handle.tone}`}
      data-outside={outside}
      role="slider"
      tabIndex={0}
      aria-label={handle.label}
      aria-orientation="horizontal"
      aria-valuemin={limitsMs[0]}
      aria-valuemax={limitsMs[1]}
      aria-valuenow={handle.ms}
      aria-valuetext={handle.text}
      style={style}
      onKeyDown={onKeyDown}
      onPointerDown={onPointerDown}
      onPointerMove={onPointerMove}
      onPointerUp={letGo}
      onPointerCancel={letGo}
    >
      <span
        className="plot-handle-tag"
        style={
          handle.row === 'above'
            ? { insetBlockStart: 0 }
            : { insetBlockEnd: Math.max(0, Math.min(24 * handle.row, height - TAG_PX)) }
        }
        data-outside={outside}
        aria-hidden="true"
      >
        {outside === 'before' ? `◂${handle.mark}` : outside === 'after' ? `${handle.mark}▸` : handle.mark}
      </span>
    </div>
  )
}
