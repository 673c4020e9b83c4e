import { useState } from 'react'
import { Checkbox } from 'react-aria-components'
import { FLASH_LIMIT_SPACING_S } from '#shared/domain/flash.ts'
import type { SweepPlan } from '#shared/domain/plan.ts'
import { Action, ModalDialog } from '../../ui/controls.tsx'
import { duration, fixed } from '../../ui/format.ts'

function Understood(props: { isSelected: boolean; onChange: (on: boolean) => void; children: string }) {
  return (
    <Checkbox className="checkbox" isSelected={props.isSelected} onChange={props.onChange}>
      <span className="checkbox-box" aria-hidden="true" />
      {props.children}
    </Checkbox>
  )
}

export interface FlashWarningProps {
  readonly isOpen: boolean
  readonly plan: SweepPlan | null
  readonly estimatedS: number | null
  readonly busy: boolean
  readonly onClose: () => void
  readonly onAcknowledge: () => void
}

/** Shown before the first start on a machine; the sweep starts only after it was acknowledged. */
export function FlashWarning({ isOpen, plan, estimatedS, busy, onClose, onAcknowledge }: FlashWarningProps) {
  const [understood, setUnderstood] = useState(false)
  return (
    <ModalDialog
      title="Flashing light: read this before the first sweep"
      role="alertdialog"
      isOpen={isOpen}
      onClose={onClose}
      actions={
        <>
          <Action onPress={onClose}>Cancel</Action>
          <Action tone="main" isDisabled={!understood} isPending={busy} onPress={onAcknowledge}>
            Acknowledge and start
          </Action>
        </>
      }
    >
      {plan === null ? null : (
        <p className="dialog-lead">
          The patch on the display under test will jump between {plan.levels.length} grey levels from {plan.levels[0]}{' '}
          to {plan.levels.at(-1)}, once every {fixed(plan.spacingS * 1000, 0)} ms
          {estimatedS === null ? '' : `, for about ${duration(estimatedS)}`}. It covers {fixed(plan.patch.sizePct, 0)} %
          of the screen’s height.
        </p>
      )}
      <ul>
        <li>
          Flashing light can trigger seizures in people with photosensitive epilepsy, also in people who never had one.
          Nobody who may be at risk should be able to see the display under test.
        </li>
        <li>
          Slewlight keeps to at most three level changes a second; WCAG 2.3.1 allows at most three flashes in any
          second. This lowers the risk and does not take it away.
        </li>
        <li>Cover patch and sensor with a hood, or turn the display away from people.</li>
        <li>The sweep can be stopped at any time with the Stop button or the key S.</li>
        <li>
          Local safety rules and qualified people decide whether the work may be done; this text does not replace them.
        </li>
      </ul>
      <Understood isSelected={understood} onChange={setUnderstood}>
        I have read this, and nobody at risk can see the display under test.
      </Understood>
    </ModalDialog>
  )
}

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
        Nobody can see the flashing, and I answer for that.
      </Understood>
    </ModalDialog>
  )
}
