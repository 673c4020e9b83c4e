import { useState } from 'react'
import { FLASH_LIMIT_SPACING_S } from '#shared/domain/flash.ts'
import { Action, ModalDialog } from '../../ui/controls.tsx'
import { fixed } from '../../ui/format.ts'
import { Understood } from '../../ui/understood.tsx'

/** A separate, knowing act: lets a plan change levels faster than three times a second. */
export function LiftFlashLimit(props: { isOpen: boolean; onClose: () => void; onLift: () => void }) {
  const [understood, setUnderstood] = useState(false)
  const close = () => {
    setUnderstood(false)
    props.onClose()
  }
  return (
    <ModalDialog
      title="Lift the flash limit for this plan?"
      role="alertdialog"
      isOpen={props.isOpen}
      onClose={close}
      actions={
        <>
          <Action onPress={close}>Keep the limit</Action>
          <Action
            tone="danger"
            isDisabled={!understood}
            onPress={() => {
              setUnderstood(false)
              props.onLift()
            }}
          >
            Lift the limit
          </Action>
        </>
      }
    >
      <p>
        Level changes less than {fixed(FLASH_LIMIT_SPACING_S * 1000, 0)} ms apart are more than three a second. Flashing
        at such rates is the most likely to trigger seizures.
      </p>
      <p>
        Lift the limit only where the display under test is covered or nobody can see it, and where local rules allow
        it. A spacing of at least {Math.ceil(FLASH_LIMIT_SPACING_S * 1000)} ms needs no lifting and costs only time.
      </p>
      <Understood isSelected={understood} onChange={setUnderstood}>
        Nobody can see the flashing; I take responsibility for that.
      </Understood>
    </ModalDialog>
  )
}
