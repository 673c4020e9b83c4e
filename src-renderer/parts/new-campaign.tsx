import { useState } from 'react'
import type { Campaign } from '#shared/domain/capture.ts'
import { useCommand } from '../client/use-command.ts'
import { Action, ModalDialog } from '../ui/controls.tsx'
import { TextInput } from '../ui/fields.tsx'

export interface NewCampaignProps {
  readonly isOpen: boolean
  readonly onClose: () => void
  readonly onCreated: (campaign: Campaign) => void
}

export function NewCampaign(props: NewCampaignProps) {
  const [name, setName] = useState('')
  const [display, setDisplay] = useState('')
  const [note, setNote] = useState('')
  const create = useCommand('The campaign could not be created', (client) =>
    client.campaigns.create({ name: name.trim(), display: display.trim(), note }),
  )
  const submit = async () => {
    const campaign = await create.run()
    if (campaign === null) return
    setName('')
    setDisplay('')
    setNote('')
    props.onCreated(campaign)
  }
  return (
    <ModalDialog
      title="New campaign"
      isOpen={props.isOpen}
      onClose={props.onClose}
      actions={
        <>
          <Action onPress={props.onClose}>Cancel</Action>
          <Action tone="main" type="submit" form="new-campaign" isPending={create.busy} isDisabled={name.trim() === ''}>
            Create campaign
          </Action>
        </>
      }
    >
      <form
        id="new-campaign"
        className="stack"
        onSubmit={(event) => {
          event.preventDefault()
          if (name.trim() !== '' && !create.busy) void submit()
        }}
      >
        <TextInput
          label="Name"
          value={name}
          onChange={setName}
          maxLength={100}
          isRequired
          autoFocus
          hint="What this work is called, for example the display’s inventory number."
        />
        <TextInput
          label="Display"
          value={display}
          onChange={setDisplay}
          maxLength={100}
          hint="The display under test, in your own words."
        />
        <TextInput
          label="Note"
          value={note}
          onChange={setNote}
          maxLength={2000}
          hint="Warm-up, room, firmware: whatever the numbers depend on."
        />
      </form>
    </ModalDialog>
  )
}
