import { Button, Menu, MenuItem, MenuTrigger, Popover, ToggleButton } from 'react-aria-components'
import type { DragMode } from '../../plot/desk-plot.tsx'
import { Action, Segmented } from '../../ui/controls.tsx'
import { SHORTCUTS, type ShortcutId } from '../../ui/shortcuts.ts'
import type { LayerId, Layers } from './layers.ts'

/** Switched all the time: in the row. */
const TOOLS: readonly { readonly id: LayerId; readonly label: string; readonly shortcut: ShortcutId }[] = [
  { id: 'cursors', label: 'Cursors', shortcut: 'cursors' },
  { id: 'repeats', label: 'Repeats', shortcut: 'repeats' },
  { id: 'residual', label: 'Residual', shortcut: 'residual' },
  { id: 'spectrum', label: 'Spectrum', shortcut: 'spectrum' },
  { id: 'blur', label: 'Blur edge', shortcut: 'blur' },
]
/** Set once: behind “More”. */
const MORE: readonly { readonly id: LayerId; readonly label: string }[] = [
  { id: 'frames', label: 'Refresh periods' },
  { id: 'windows', label: 'Level windows' },
  { id: 'raw', label: 'Raw samples' },
]
const BOX = 'box'

const VIEWS = [
  { id: 'edge', label: 'Edge' },
  { id: 'record', label: 'Record' },
] as const
export type PlotPart = (typeof VIEWS)[number]['id']

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

/** One row, whatever the width. */
export function PlotToolbar(props: PlotToolbarProps) {
  const { layers } = props
  return (
    <div className="plot-toolbar" role="toolbar" aria-label="Plot">
      <div className="tool-group" role="group" aria-label="Shown on the plot">
        {TOOLS.map(({ id, label, shortcut }) => (
          <ToggleButton
            key={id}
            className="button button-small tool"
            isSelected={layers[id]}
            onChange={() => props.onLayer(id)}
            aria-keyshortcuts={SHORTCUTS[shortcut].key}
          >
            {label}
          </ToggleButton>
        ))}
      </div>
      <More {...props} />
      <span className="pane-space" />
      <div className="tool-group" role="group" aria-label="Zoom">
        <Action size="small" aria-label="Zoom in" onPress={() => props.onZoom(1 / 1.5)}>
          +
        </Action>
        <Action size="small" aria-label="Zoom out" onPress={() => props.onZoom(1.5)}>
          −
        </Action>
      </div>
      <Segmented label="Part of the record in view" value={props.part} choices={VIEWS} onChange={props.onPart} />
    </div>
  )
}

function More({ layers, onLayer, conditioned, drag, onDrag }: PlotToolbarProps) {
  const offered = MORE.filter(({ id }) => id !== 'raw' || conditioned)
  const chosen: string[] = offered.filter(({ id }) => layers[id]).map(({ id }) => id)
  if (drag === 'box') chosen.push(BOX)
  return (
    <MenuTrigger>
      <Button className="button button-small tool" aria-label="More plot options">
        More <span aria-hidden="true">▾</span>
      </Button>
      <Popover className="popover">
        <Menu
          className="list-box"
          aria-label="More plot options"
          selectionMode="multiple"
          selectedKeys={chosen}
          onSelectionChange={(keys) => {
            const next = keys === 'all' ? null : keys
            for (const { id } of offered) if (next !== null && next.has(id) !== layers[id]) onLayer(id)
            if (next !== null && next.has(BOX) !== (drag === 'box')) onDrag(next.has(BOX) ? 'box' : 'pan')
          }}
        >
          {offered.map(({ id, label }) => (
            <MenuItem key={id} id={id} className="list-item menu-check">
              {label}
            </MenuItem>
          ))}
          <MenuItem id={BOX} className="list-item menu-check" textValue="Drag to zoom">
            <span>Drag to zoom</span>
            <span className="list-note">otherwise dragging moves the view; Shift swaps the two</span>
          </MenuItem>
        </Menu>
      </Popover>
    </MenuTrigger>
  )
}
