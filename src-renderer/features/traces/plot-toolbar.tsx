import { ToggleButton } from 'react-aria-components'
import type { DragMode } from '../../plot/desk-plot.tsx'
import { Action, Segmented } from '../../ui/controls.tsx'
import { SHORTCUTS, type ShortcutId } from '../../ui/shortcuts.ts'
import type { LayerId, Layers } from './layers.ts'

const TOOLS: readonly { readonly id: LayerId; readonly label: string; readonly shortcut?: ShortcutId }[] = [
  { id: 'cursors', label: 'Cursors', shortcut: 'cursors' },
  { id: 'repeats', label: 'Repeats', shortcut: 'repeats' },
  { id: 'residual', label: 'Residual', shortcut: 'residual' },
  { id: 'blur', label: 'Blur edge', shortcut: 'blur' },
  { id: 'spectrum', label: 'Spectrum', shortcut: 'spectrum' },
  { id: 'frames', label: 'Frames' },
  { id: 'windows', label: 'Level windows' },
  { id: 'raw', label: 'Raw' },
]

const VIEWS = [
  { id: 'edge', label: 'Edge' },
  { id: 'record', label: 'Record' },
] as const
export type PlotPart = (typeof VIEWS)[number]['id']
const DRAGS = [
  { id: 'pan', label: 'Move' },
  { id: 'box', label: 'Box' },
] as const

export interface PlotToolbarProps {
  readonly layers: Layers
  readonly onLayer: (id: LayerId) => void
  /** Raw and conditioned differ under the recipe in use. */
  readonly conditioned: boolean
  /** Named part of the record in view; null after it was moved. */
  readonly part: PlotPart | null
  readonly onPart: (part: PlotPart) => void
  readonly onZoom: (factor: number) => void
  readonly drag: DragMode
  readonly onDrag: (mode: DragMode) => void
}

export function PlotToolbar(props: PlotToolbarProps) {
  const { layers } = props
  return (
    <div className="plot-toolbar" role="toolbar" aria-label="Plot">
      <div className="tool-group" role="group" aria-label="Shown on the plot">
        {TOOLS.map(({ id, label, shortcut }) =>
          id === 'raw' && !props.conditioned ? null : (
            <ToggleButton
              key={id}
              className="button button-small tool"
              isSelected={layers[id]}
              onChange={() => props.onLayer(id)}
              {...(shortcut === undefined ? {} : { 'aria-keyshortcuts': SHORTCUTS[shortcut].key })}
            >
              {label}
            </ToggleButton>
          ),
        )}
      </div>
      <span className="pane-space" />
      <Segmented label="Dragging on the plot" value={props.drag} choices={DRAGS} onChange={props.onDrag} />
      <div className="tool-group" role="group" aria-label="Closer and further">
        <Action size="small" aria-label="Look closer" onPress={() => props.onZoom(1 / 1.5)}>
          +
        </Action>
        <Action size="small" aria-label="Look from further away" onPress={() => props.onZoom(1.5)}>
          −
        </Action>
      </div>
      <Segmented label="Part of the record in view" value={props.part} choices={VIEWS} onChange={props.onPart} />
    </div>
  )
}
