import { useState } from 'react'
import type { AcceptedFlag, NewAcceptedFlag } from '#shared/domain/desk.ts'
import type { FlagId } from '#shared/domain/result.ts'
import { useCommand } from '../../client/use-command.ts'
import { Action } from '../../ui/controls.tsx'
import { TextInput } from '../../ui/fields.tsx'
import { dayAndTime } from '../../ui/format.ts'
import { FLAG_WORDS } from '../../ui/words.ts'
import { useReviewer } from './use-reviewer.ts'

export interface AcceptFlagProps {
  readonly sweepId: number
  readonly flag: FlagId
  /** As it is accepted now; null when it is not. */
  readonly accepted: AcceptedFlag | null
}

/** A flag that all of a sweep shows for a known reason is accepted once, instead of in each capture. */
export function AcceptFlag({ sweepId, flag, accepted }: AcceptFlagProps) {
  const [open, setOpen] = useState(false)
  const [reason, setReason] = useState('')
  const [reviewer, setReviewer] = useReviewer()
  const [tried, setTried] = useState(false)
  const accept = useCommand('The flag could not be accepted', (client, entry: NewAcceptedFlag) =>
    client.reviews.acceptFlag(entry),
  )
  const withdraw = useCommand('The acceptance could not be withdrawn', (client) =>
    client.reviews.withdrawFlag({ sweepId, flag }),
  )
  if (accepted !== null)
    return (
      <div className="accept-flag" role="status">
        <span className="hint">
          Accepted for sweep {sweepId}: “{accepted.reason}”, {accepted.reviewer}, {dayAndTime(accepted.at)}
        </span>
        <Action
          size="small"
          isPending={withdraw.busy}
          aria-label={`Withdraw the acceptance of “${FLAG_WORDS[flag]}”`}
          onPress={() => void withdraw.run()}
        >
          Withdraw
        </Action>
      </div>
    )
  if (!open)
    return (
      <div className="accept-flag">
        <Action size="small" tone="quiet" onPress={() => setOpen(true)}>
          Accept <span className="visually-hidden">“{FLAG_WORDS[flag]}”</span> for sweep {sweepId}…
        </Action>
      </div>
    )
  const submit = async () => {
    setTried(true)
    if (reason.trim() === '' || reviewer.trim() === '' || accept.busy) return
    const done = await accept.run({ sweepId, flag, reason: reason.trim(), reviewer: reviewer.trim() })
    if (done !== null) setOpen(false)
  }
  return (
    <form
      className="accept-flag"
      aria-label={`Accept “${FLAG_WORDS[flag]}” for sweep ${sweepId}`}
      onSubmit={(event) => {
        event.preventDefault()
        void submit()
      }}
    >
      <TextInput
        label="Why it is there"
        value={reason}
        onChange={setReason}
        maxLength={500}
        autoFocus
        hint="The flag stays on record, but no capture of this sweep is doubtful for it."
        error={tried && reason.trim() === '' ? 'Write the reason.' : undefined}
      />
      <TextInput
        label="Your name"
        value={reviewer}
        onChange={setReviewer}
        maxLength={80}
        error={tried && reviewer.trim() === '' ? 'Enter your name.' : undefined}
      />
      <div className="row">
        <Action type="submit" size="small" tone="main" isPending={accept.busy}>
          Accept the flag
        </Action>
        <Action size="small" tone="quiet" onPress={() => setOpen(false)}>
          Cancel
        </Action>
      </div>
    </form>
  )
}
