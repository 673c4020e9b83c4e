import { Action, ModalDialog } from '../ui/controls.tsx'
import { SwitchInput } from '../ui/fields.tsx'
import { setSingleKeys, SHORTCUTS, useSingleKeys } from '../ui/shortcuts.ts'

const SCREENS = ['every screen', 'Bench', 'Traces', 'Recipes', 'Import'] as const

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
      {SCREENS.map((screen) => (
        <section key={screen} aria-label={`Keys on ${screen}`}>
          <h3 className="shortcuts-screen">{screen === 'every screen' ? 'Every screen' : screen}</h3>
          <dl className="shortcuts">
            {Object.entries(SHORTCUTS).map(([id, { key, what, on }]) =>
              on === screen ? (
                <div key={id}>
                  <dt>
                    <kbd>{key.toUpperCase()}</kbd>
                  </dt>
                  <dd>{what}</dd>
                </div>
              ) : null,
            )}
            {screen === 'Bench' ? <Gesture keys="drag" what="Look closer; double-click goes back to the edge" /> : null}
            {screen === 'Recipes' ? (
              <Gesture keys="Ctrl+Z" what="Undo the last change of a parameter; Ctrl+Shift+Z redoes it" />
            ) : null}
            {screen === 'Import' ? (
              <>
                <Gesture keys="Ctrl+Z" what="Undo the last change of the list; Ctrl+Shift+Z redoes it" />
                <Gesture keys="Del" what="Remove the chosen recordings from the list" />
              </>
            ) : null}
            {screen === 'Traces' ? (
              <>
                <Gesture keys="Ctrl+Z" what="Undo the last decision or note" />
                <Gesture keys="Ctrl+Shift+Z" what="Redo it" />
                <Gesture keys="wheel" what="Look closer in time; with Alt in volts" />
                <Gesture keys="Shift+drag" what="Draw a box to look into; plain dragging moves the view" />
              </>
            ) : null}
          </dl>
        </section>
      ))}
      <SwitchInput
        label="Single-key shortcuts"
        hint="Switch them off when speech input or an assistive tool types letters."
        isSelected={on}
        onChange={setSingleKeys}
      />
    </ModalDialog>
  )
}

function Gesture({ keys, what }: { keys: string; what: string }) {
  return (
    <div>
      <dt>
        <kbd>{keys}</kbd>
      </dt>
      <dd>{what}</dd>
    </div>
  )
}
