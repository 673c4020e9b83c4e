import { Action, ModalDialog } from '../ui/controls.tsx'
import { SwitchInput } from '../ui/fields.tsx'
import { setSingleKeys, SHORTCUTS, useSingleKeys } from '../ui/shortcuts.ts'

export function Help({ isOpen, onClose }: { isOpen: boolean; onClose: () => void }) {
  const on = useSingleKeys()
  return (
    <ModalDialog
      title="Keyboard"
      isOpen={isOpen}
      onClose={onClose}
      actions={
        <Action tone="main" onPress={onClose}>
          Close
        </Action>
      }
    >
      <dl className="shortcuts">
        {Object.values(SHORTCUTS).map(({ key, what }) => (
          <div key={key}>
            <dt>
              <kbd>{key.toUpperCase()}</kbd>
            </dt>
            <dd>{what}</dd>
          </div>
        ))}
        <div>
          <dt>
            <kbd>drag</kbd>
          </dt>
          <dd>Look closer at a span of the trace; double-click goes back to the edge</dd>
        </div>
      </dl>
      <SwitchInput
        label="Single-key shortcuts"
        hint="Switch them off when speech input or an assistive tool types letters."
        isSelected={on}
        onChange={setSingleKeys}
      />
    </ModalDialog>
  )
}
