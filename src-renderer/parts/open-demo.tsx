import { useArchiveChoice, useOpenArchive } from '../client/use-archive.ts'
import { Action } from '../ui/controls.tsx'

/** For screens with nothing to show yet; nothing where the demo library cannot be opened or is open. */
export function OpenDemo() {
  const choice = useArchiveChoice()
  const { open, busy } = useOpenArchive('Open the demo library')
  if (choice !== 'own') return null
  return (
    <span className="open-demo">
      <Action isPending={busy} onPress={() => void open('demo')}>
        {busy ? 'Making the demo library…' : 'Open the demo library'}
      </Action>
      <span className="hint">Invented displays, apart from your archive.</span>
    </span>
  )
}
