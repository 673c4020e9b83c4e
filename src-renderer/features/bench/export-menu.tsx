import { memo } from 'react'
import { Menu, MenuItem, MenuTrigger, Popover } from 'react-aria-components'
import { useExports } from '../../client/use-exports.ts'
import { Action } from '../../ui/controls.tsx'

const ITEMS = [
  { id: 'matrix', label: 'Matrix, CSV', note: 'One row per transition and measure' },
  { id: 'captures', label: 'Captures, CSV', note: 'One row per capture with all measures' },
] as const

/** The sweep in view as files, under the recipe of the screens. */
export const ExportMenu = memo(function ExportMenu({ sweepId, recipeHash }: { sweepId: number; recipeHash: string }) {
  const { save, busy } = useExports()
  return (
    <MenuTrigger>
      <Action size="small" isPending={busy}>
        Export…
      </Action>
      <Popover className="popover" placement="bottom end">
        <Menu
          aria-label={`Export sweep ${sweepId}`}
          className="list-box"
          items={ITEMS}
          onAction={(key) => save({ what: key === 'matrix' ? 'matrix' : 'captures', sweepId, recipeHash })}
        >
          {(item) => (
            <MenuItem id={item.id} className="list-item" textValue={item.label}>
              <span>{item.label}</span>
              <span className="list-note">{item.note}</span>
            </MenuItem>
          )}
        </Menu>
      </Popover>
    </MenuTrigger>
  )
})
