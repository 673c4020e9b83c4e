/** Names and notes of a campaign and its sweeps; sweeps are hidden and restored, never deleted. */
import { useState } from 'react'
import type { Campaign, Sweep } from '#shared/domain/capture.ts'
import { useHostQuery } from '../../client/queries.ts'
import { useCommand } from '../../client/use-command.ts'
import { Action, ModalDialog } from '../../ui/controls.tsx'
import { TextInput } from '../../ui/fields.tsx'
import { dayAndTime, hertz } from '../../ui/format.ts'
import { SWEEP_STATE_WORDS } from '../../ui/words.ts'

export interface ManageProps {
  readonly campaign: Campaign
  readonly isOpen: boolean
  readonly onClose: () => void
}

export function Manage({ campaign, isOpen, onClose }: ManageProps) {
  return (
    <ModalDialog
      title={`Campaign “${campaign.name}”`}
      isOpen={isOpen}
      onClose={onClose}
      actions={<Action onPress={onClose}>Close</Action>}
    >
      <CampaignForm key={campaign.id} campaign={campaign} />
      <SweepNames campaignId={campaign.id} />
    </ModalDialog>
  )
}

function CampaignForm({ campaign }: { campaign: Campaign }) {
  const [name, setName] = useState(campaign.name)
  const [display, setDisplay] = useState(campaign.display)
  const [note, setNote] = useState(campaign.note)
  const update = useCommand('The campaign could not be changed', (client) =>
    client.campaigns.update({ campaignId: campaign.id, name: name.trim(), display: display.trim(), note }),
  )
  const changed = name !== campaign.name || display !== campaign.display || note !== campaign.note
  return (
    <form
      className="stack"
      aria-label="Campaign"
      onSubmit={(event) => {
        event.preventDefault()
        if (changed && name.trim() !== '' && !update.busy) void update.run()
      }}
    >
      <TextInput label="Name" value={name} onChange={setName} maxLength={100} isRequired />
      <TextInput label="Display" value={display} onChange={setDisplay} maxLength={100} />
      <TextInput label="Note" value={note} onChange={setNote} maxLength={2000} />
      <div className="row">
        <Action
          tone={changed ? 'main' : 'plain'}
          type="submit"
          isDisabled={!changed || name.trim() === ''}
          isPending={update.busy}
        >
          Save campaign
        </Action>
      </div>
    </form>
  )
}

function SweepNames({ campaignId }: { campaignId: number }) {
  const sweeps = useHostQuery(['sweeps', campaignId, 'with hidden'], (client, signal) =>
    client.sweeps.list({ campaignId, includeHidden: true }, { signal }),
  )
  const list = sweeps.data ?? []
  return (
    <section aria-label="Sweeps of the campaign">
      <h3>Sweeps</h3>
      {list.length === 0 ? (
        <p className="hint">None yet.</p>
      ) : (
        <ul className="manage-sweeps">
          {list.map((sweep) => (
            <SweepRow key={sweep.id} sweep={sweep} />
          ))}
        </ul>
      )}
    </section>
  )
}

function SweepRow({ sweep }: { sweep: Sweep }) {
  const { id } = sweep
  const [name, setName] = useState(sweep.name)
  const rename = useCommand('The sweep could not be renamed', (client) =>
    client.sweeps.rename({ sweepId: id, name: name.trim() }),
  )
  const hide = useCommand('The sweep could not be hidden or restored', (client, hidden: boolean) =>
    client.sweeps.hide({ sweepId: id, hidden }),
  )
  return (
    <li data-hidden={sweep.hidden}>
      <span>
        {id}: {sweep.setting}, {hertz(sweep.refreshHz)} Hz
        <span className="minor">
          {' '}
          {dayAndTime(sweep.createdAt)}, {SWEEP_STATE_WORDS[sweep.state]}, {sweep.done} of {sweep.total}
          {sweep.hidden ? ', hidden' : ''}
        </span>
      </span>
      <form
        className="manage-name"
        onSubmit={(event) => {
          event.preventDefault()
          if (name.trim() !== sweep.name && !rename.busy) void rename.run()
        }}
      >
        <div className="bare">
          <TextInput label={`Name of sweep ${id}`} value={name} onChange={setName} maxLength={100} placeholder="Name" />
        </div>
        <Action
          type="submit"
          size="small"
          aria-label={`Rename sweep ${id}`}
          isDisabled={name.trim() === sweep.name}
          isPending={rename.busy}
        >
          Rename
        </Action>
        <Action
          size="small"
          aria-label={`${sweep.hidden ? 'Restore' : 'Hide'} sweep ${id}`}
          isPending={hide.busy}
          onPress={() => void hide.run(!sweep.hidden)}
        >
          {sweep.hidden ? 'Restore' : 'Hide'}
        </Action>
      </form>
    </li>
  )
}
