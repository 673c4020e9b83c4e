import { type KeyboardEvent, type PointerEvent, useRef } from 'react'
import { type FigureId, FIGURES } from '#shared/findings/campaign/figures.ts'
import type { Limit } from '#shared/findings/campaign/limits.ts'
import { PLOT_AREA, shownPer } from '#shared/figures/over-refresh.ts'
import { rangeOf, stepped } from './limits.ts'

/** What a key moves the limit by, in steps. */
const KEYS: Readonly<Record<string, number>> = {
  ArrowUp: 1,
  ArrowRight: 1,
  ArrowDown: -1,
  ArrowLeft: -1,
  PageUp: 10,
  PageDown: -10,
}

/** A limit as a line over the plot of its figure: dragged, or moved by arrow keys one step at a time (Page: ten). */
export function LimitLine(props: {
  readonly id: FigureId
  readonly limit: Limit
  /** Of the vertical axis, in shown units. */
  readonly domain: readonly [number, number]
  readonly onMove: (value: number) => void
  /** The axis must not change while the line is held. */
  readonly onHold: (held: boolean) => void
}) {
  const { id, limit, domain, onMove, onHold } = props
  const grip = useRef<{ readonly y: number; readonly value: number; readonly perPixel: number } | null>(null)
  const range = rangeOf(id)
  const scale = shownPer(id)
  const [low, high] = domain
  const share = Math.min(1, Math.max(0, (limit.value * scale - low) / (high - low)))
  const at = PLOT_AREA.top + (1 - share) * (1 - PLOT_AREA.top - PLOT_AREA.bottom)
  const unit = FIGURES[id].unit === 's' ? 'ms' : '%'
  const words = `${limit.bound === 'at-most' ? 'at most' : 'at least'} ${Number((limit.value * scale).toFixed(3))} ${unit}`
  const move = (value: number): void => {
    const next = stepped(range, value)
    if (next !== limit.value) onMove(next)
  }
  const onKeyDown = (event: KeyboardEvent) => {
    const steps = KEYS[event.key]
    if (steps !== undefined) move(limit.value + steps * range.step)
    else if (event.key === 'Home' || event.key === 'End') move(event.key === 'Home' ? range.min : range.max)
    else return
    event.preventDefault()
  }
  const onPointerDown = (event: PointerEvent<HTMLElement>) => {
    if (event.button !== 0) return
    const picture = event.currentTarget.parentElement?.getBoundingClientRect().height ?? 0
    const height = picture * (1 - PLOT_AREA.top - PLOT_AREA.bottom)
    if (height <= 0) return
    event.currentTarget.setPointerCapture(event.pointerId)
    grip.current = { y: event.clientY, value: limit.value, perPixel: (high - low) / scale / height }
    onHold(true)
  }
  const onPointerMove = (event: PointerEvent<HTMLElement>) => {
    if (grip.current === null) return
    const { y, value, perPixel } = grip.current
    move(Math.min(high / scale, Math.max(low / scale, value + (y - event.clientY) * perPixel)))
  }
  const letGo = () => {
    grip.current = null
    onHold(false)
  }
  return (
    <div
      className="limit-line"
      role="slider"
      tabIndex={0}
      aria-label={`Limit of ${FIGURES[id].phrase}`}
      aria-orientation="vertical"
      aria-valuemin={range.min * scale}
      aria-valuemax={range.max * scale}
      aria-valuenow={limit.value * scale}
      aria-valuetext={words}
      style={{ top: `${100 * at}%`, left: PLOT_AREA.left, right: PLOT_AREA.right }}
      onKeyDown={onKeyDown}
      onPointerDown={onPointerDown}
      onPointerMove={onPointerMove}
      onPointerUp={letGo}
      onPointerCancel={letGo}
    >
      <span className="limit-line-words" aria-hidden="true">
        {words}
      </span>
    </div>
  )
}
