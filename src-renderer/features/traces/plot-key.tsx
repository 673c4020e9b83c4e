import type { CaptureInfo } from '#shared/domain/capture.ts'
import type { Overlay } from '#shared/domain/desk.ts'
import type { DeskScene } from '../../plot/desk-scene.ts'
import type { Span } from '../../plot/view-moves.ts'
import { hertz, pair, plural } from '../../ui/format.ts'

/** What the areas and lines of the plot mean; only what is on it. */
export function PlotKey(props: {
  readonly scene: DeskScene | null
  /** Times in view, ms from the origin; null when nothing is. */
  readonly inViewMs: Span | null
  readonly overlay: Overlay | null
  /** A capture laid over this one. */
  readonly other: CaptureInfo | null
  readonly refreshHz: number
}) {
  const { scene, inViewMs, overlay, other, refreshHz } = props
  const showsWindow =
    inViewMs !== null && scene?.windows.some(({ fromMs, toMs }) => toMs > inViewMs[0] && fromMs < inViewMs[1])
  return (
    <p className="trace-legend">
      <span>Signal, V</span>
      {scene?.base.window ? <span className="key key-window">one refresh, {hertz(refreshHz)} Hz</span> : null}
      <span className="key key-start">start band</span>
      <span className="key key-end">end band</span>
      {showsWindow ? <span className="key key-levels">level windows</span> : null}
      {scene?.raw == null ? null : <span className="key key-raw">raw</span>}
      {scene?.other == null || other === null ? null : (
        <span className="key key-other">
          capture {other.id}, {pair(other.from, other.to)}, repeat {other.repeat}
        </span>
      )}
      {overlay === null ? null : (
        <>
          <span className="key key-repeat">
            {plural(overlay.counted, 'repeat')}
            {overlay.excluded > 0 ? `, ${overlay.excluded} left out (dashed)` : ''}
          </span>
          {overlay.mean === null ? null : <span className="key key-mean">their mean</span>}
          {overlay.note === '' ? null : <span>{overlay.note}</span>}
        </>
      )}
      <span className="trace-axis">{scene === null ? 'Time, ms' : `Time from ${scene.base.origin}, ms`}</span>
    </p>
  )
}
