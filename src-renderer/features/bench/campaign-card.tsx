import { memo, useState } from 'react'
import { ListBox, ListBoxItem } from 'react-aria-components'
import type { Sweep } from '#shared/domain/capture.ts'
import { useCampaigns } from '../../client/queries.ts'
import { Action, Card, EmptyState } from '../../ui/controls.tsx'
import { SelectInput } from '../../ui/fields.tsx'
import { clockTime, hertz } from '../../ui/format.ts'
import { SWEEP_STATE_WORDS } from '../../ui/words.ts'
import { NewCampaign } from '../../parts/new-campaign.tsx'

export interface CampaignCardProps {
  readonly campaignId: number | null
  readonly onCampaign: (id: number) => void
  readonly sweeps: readonly Sweep[]
  readonly sweepId: number | null
  readonly onSweep: (id: number) => void
}

export const CampaignCard = memo(function CampaignCard(props: CampaignCardProps) {
  const { campaignId, onCampaign, sweeps, sweepId, onSweep } = props
  const campaigns = useCampaigns()
  const [creating, setCreating] = useState(false)
  const list = campaigns.data ?? []
  const chosen = list.find(({ id }) => id === campaignId)
  return (
    <Card
      title="Campaign"
      aside={
        <Action tone="quiet" size="small" onPress={() => setCreating(true)}>
          New campaign
        </Action>
      }
    >
      {campaigns.isSuccess && list.length === 0 ? (
        <EmptyState title="No campaign yet">A campaign holds all work on one display. Create one to begin.</EmptyState>
      ) : (
        <SelectInput
          label="Display under test"
          value={campaignId === null ? null : String(campaignId)}
          onChange={(id) => onCampaign(Number(id))}
          choices={list.map((campaign) => ({
            id: String(campaign.id),
            label: campaign.name,
            note: [campaign.display, campaign.origin === 'simulated' ? 'invented data' : '']
              .filter((part) => part !== '')
              .join(' · '),
          }))}
        />
      )}
      {chosen?.origin === 'simulated' ? <p className="hint">Simulated rig: every number here is invented.</p> : null}
      {campaignId === null ? null : <SweepList sweeps={sweeps} sweepId={sweepId} onSweep={onSweep} />}
      <NewCampaign
        isOpen={creating}
        onClose={() => setCreating(false)}
        onCreated={(id) => {
          setCreating(false)
          onCampaign(id)
        }}
      />
    </Card>
  )
})

type SweepListProps = Pick<CampaignCardProps, 'sweeps' | 'sweepId' | 'onSweep'>

function SweepList({ sweeps, sweepId, onSweep }: SweepListProps) {
  if (sweeps.length === 0) return <p className="hint">No sweep in this campaign yet. Plan one below and start it.</p>
  const newestFirst = [...sweeps].sort((a, b) => b.id - a.id)
  return (
    <ListBox
      aria-label="Sweeps of this campaign"
      className="sweep-list"
      selectionMode="single"
      disallowEmptySelection
      selectedKeys={sweepId === null ? [] : [sweepId]}
      onSelectionChange={(keys) => {
        if (keys === 'all') return
        const [id] = keys
        if (typeof id === 'number') onSweep(id)
      }}
      items={newestFirst}
    >
      {(sweep) => (
        <ListBoxItem
          id={sweep.id}
          className="sweep-item"
          textValue={`${sweep.plan.setting}, ${hertz(sweep.plan.refreshHz)} Hz`}
        >
          <span>
            {sweep.plan.setting} <span className="minor">{hertz(sweep.plan.refreshHz)} Hz</span>
          </span>
          <span className="sweep-note">
            #{sweep.id}, {SWEEP_STATE_WORDS[sweep.state]}, {sweep.done} of {sweep.total}, {clockTime(sweep.createdAt)}
          </span>
        </ListBoxItem>
      )}
    </ListBox>
  )
}
