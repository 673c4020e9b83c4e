import { useState } from 'react'
import { Label, TextArea, TextField } from 'react-aria-components'
import type { CaptureDetail } from '#shared/domain/desk.ts'
import { useCommand } from '../../client/use-command.ts'
import { Action } from '../../ui/controls.tsx'
import { TextInput } from '../../ui/fields.tsx'
import { dayAndTime } from '../../ui/format.ts'

export interface NoteFormProps {
  readonly detail: CaptureDetail
  readonly reviewer: string
  /** Takes the reviewer's name where it is not asked for elsewhere; null where it is. */
  readonly onReviewer: ((name: string) => void) | null
}

/** A note on the capture; storing it empty takes it away. */
export function NoteForm({ detail, reviewer, onReviewer }: NoteFormProps) {
  const [unnamed] = useState(reviewer.trim() === '')
  const stored = detail.note?.text ?? ''
  const [typed, setTyped] = useState<string | null>(null)
  const text = typed ?? stored
  const save = useCommand('The note could not be stored', (client) =>
    client.captures.setNote({ captureId: detail.info.id, text: text.trim(), reviewer: reviewer.trim() }),
  )
  const changed = text.trim() !== stored
  const submit = async () => {
    if (!changed || reviewer.trim() === '' || save.busy) return
    if ((await save.run()) !== null) setTyped(null)
  }
  return (
    <form
      className="note-form"
      onSubmit={(event) => {
        event.preventDefault()
        void submit()
      }}
    >
      <TextField className="field" value={text} onChange={setTyped} maxLength={2000}>
        <Label className="field-label">Note on this capture</Label>
        <TextArea className="input note-text" rows={2} />
      </TextField>
      {changed && unnamed && onReviewer !== null ? (
        <TextInput label="Your name" value={reviewer} onChange={onReviewer} maxLength={80} />
      ) : null}
      <div className="row">
        <Action type="submit" size="small" isDisabled={!changed || reviewer.trim() === ''} isPending={save.busy}>
          Store note
        </Action>
        <span className="hint">
          {detail.note === null ? '' : `${detail.note.reviewer}, ${dayAndTime(detail.note.at)}`}
        </span>
      </div>
    </form>
  )
}
