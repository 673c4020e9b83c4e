import { useState } from 'react'
import { Action, ModalDialog } from '../ui/controls.tsx'
import { duration } from '#shared/domain/quantity-text.ts'
import { fixed } from '../ui/format.ts'
import { Understood } from '../ui/understood.tsx'
import type { FlashWarningState } from './use-flash-warning.ts'

/** Shown before the first start on a machine; the sweep starts only after it was acknowledged. */
export function FlashWarning(props: {
  readonly flash: FlashWarningState
  /** How long the flashing will last, s; null where it is not told. */
  readonly estimatedS: number | null
}) {
  const { estimatedS } = props
  const { warning, acknowledging, close, acknowledge } = props.flash
  const plan = warning?.plan ?? null
  const [understood, setUnderstood] = useState(false)
  return (
    <ModalDialog
      title="Flashing light: read this before the first sweep"
      role="alertdialog"
      isOpen={warning !== null}
      onClose={close}
      actions={
        <>
          <Action onPress={close}>Cancel</Action>
          <Action tone="main" isDisabled={!understood} isPending={acknowledging} onPress={acknowledge}>
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
        <li>The sweep can be stopped or paused at any time.</li>
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
