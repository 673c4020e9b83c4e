import type { ReactNode } from 'react'
import { Action, ModalDialog } from '../../ui/controls.tsx'

/** A form of the record in a dialog: what it asks, Cancel, and the one action it leads to. */
export function RecordDialog(props: {
  readonly title: string
  /** What the main button says, and whether the form is filled so that it can be pressed. */
  readonly action: string
  readonly possible: boolean
  readonly busy: boolean
  readonly onAction: () => void
  readonly onClose: () => void
  readonly children: ReactNode
}) {
  const { title, action, possible, busy, onAction, onClose, children } = props
  return (
    <ModalDialog
      title={title}
      isOpen
      onClose={onClose}
      actions={
        <>
          <Action onPress={onClose}>Cancel</Action>
          <Action tone="main" isPending={busy} isDisabled={!possible} onPress={onAction}>
            {action}
          </Action>
        </>
      }
    >
      {children}
    </ModalDialog>
  )
}
