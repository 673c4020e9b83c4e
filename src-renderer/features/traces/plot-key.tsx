import type { Overlay } from '#shared/domain/desk.ts'
import type { DeskScene } from '../../plot/desk-scene.ts'
import { hertz, plural } from '../../ui/format.ts'

/** What the areas and lines of the plot mean; only what is on it. */
export function PlotKey(props: { scene: DeskScene | null; overlay: Overlay | null; refreshHz: number }) {
  const { scene, overlay, refreshHz } = props
  return (
    <p className="trace-legend">
      <span>Signal, V</span>
      {scene?.base.window ? <span className="key key-window">one refresh, {hertz(refreshHz)} Hz</span> : null}
      <span className="key key-start">start band</span>
      <span className="key key-end">end band</span>
      {scene === null || scene.windows.length === 0 ? null : <span className="key key-levels">level windows</span>}
      {scene?.raw == null ? null : <span className="key key-raw">raw</span>}
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
