import './manual.css'
import { Tab, TabList, TabPanel, Tabs } from 'react-aria-components'
import campaign from '../../assets/manual/campaign.md?raw'
import commandLine from '../../assets/manual/command-line.md?raw'
import files from '../../assets/manual/files.md?raw'
import method from '../../assets/manual/method.md?raw'
import record from '../../assets/manual/record.md?raw'
import rig from '../../assets/manual/rig.md?raw'
import { ModalDialog } from '../ui/controls.tsx'
import { SwitchInput } from '../ui/fields.tsx'
import { setSingleKeys, SHORTCUTS, useSingleKeys } from '../ui/shortcuts.ts'
import { ManualText } from './manual-text.tsx'

const SCREENS = ['every screen', 'Bench', 'Traces', 'Recipes', 'Import'] as const

const PAGES = [
  { id: 'method', title: 'Method', text: method },
  { id: 'campaign', title: 'Campaigns', text: campaign },
  { id: 'record', title: 'Record', text: record },
  { id: 'rig', title: 'Rig', text: rig },
  { id: 'files', title: 'Files', text: files },
  { id: 'command-line', title: 'Command line', text: commandLine },
] as const

/** Keyboard and manual; the manual's pages are those of `assets/manual`. */
export function Help({ isOpen, onClose }: { isOpen: boolean; onClose: () => void }) {
  return (
    <ModalDialog title="Help" isOpen={isOpen} onClose={onClose}>
      <Tabs className="tabs help-tabs">
        <TabList className="tab-list" aria-label="Pages of the help">
          <Tab className="tab" id="keyboard">
            Keyboard
          </Tab>
          {PAGES.map(({ id, title }) => (
            <Tab key={id} className="tab" id={id}>
              {title}
            </Tab>
          ))}
        </TabList>
        <TabPanel className="help-page" id="keyboard">
          <Keyboard />
        </TabPanel>
        {PAGES.map(({ id, text }) => (
          <TabPanel key={id} className="help-page" id={id}>
            <ManualText page={text} />
          </TabPanel>
        ))}
      </Tabs>
    </ModalDialog>
  )
}

function Keyboard() {
  const on = useSingleKeys()
  return (
    <>
      <SwitchInput
        label="Single-key shortcuts"
        hint="Switch them off when speech input or an assistive tool types letters."
        isSelected={on}
        onChange={setSingleKeys}
      />
      <div className="help-keys">
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
              {screen === 'Bench' ? <Gesture keys="drag" what="Zoom in; double-click goes back to the edge" /> : null}
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
                  <Gesture keys="wheel" what="Zoom in time; with Alt in volts" />
                  <Gesture keys="Shift+drag" what="Draw a box to zoom into; plain dragging moves the view" />
                </>
              ) : null}
            </dl>
          </section>
        ))}
      </div>
    </>
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
