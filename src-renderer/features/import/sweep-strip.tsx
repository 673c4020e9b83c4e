import { useState } from 'react'
import type { Campaign } from '#shared/domain/capture.ts'
import { Action } from '../../ui/controls.tsx'
import { SelectInput, TextInput } from '../../ui/fields.tsx'
import { plural } from '../../ui/format.ts'
import { NewCampaign } from '../../parts/new-campaign.tsx'
import { useDesk } from './desk.ts'
import { refreshOf, type Row, type SweepDraft } from './desk-model.ts'

export interface SweepStripProps {
  readonly rows: readonly Row[]
  readonly draft: SweepDraft
  readonly campaigns: readonly Campaign[]
  readonly campaignId: number | null
  readonly onCampaign: (id: number) => void
  /** What is missing before the import can start; empty when nothing is. */
  readonly blockers: readonly string[]
  readonly busy: boolean
  readonly onImport: () => void
}

/** What the files have in common: the sweep they become. */
export function SweepStrip(props: SweepStripProps) {
  const { rows, draft, campaigns, campaignId, blockers } = props
  const desk = useDesk()
  const [creating, setCreating] = useState(false)
  const ready = rows.filter(({ state }) => state === 'ready').length
  const origin = campaigns.find(({ id }) => id === campaignId)?.origin ?? null
  const label =
    ready === 0 || ready === rows.length
      ? `Import ${ready === 0 ? 'recordings' : plural(ready, 'recording')}`
      : `Import ${ready} of ${rows.length} recordings`
  return (
    <section className="pane import-strip" aria-label="Sweep to be imported">
      <div className="import-strip-fields">
        <div className="import-campaign">
          <SelectInput
            label="Campaign"
            value={campaignId === null ? null : String(campaignId)}
            onChange={(id) => props.onCampaign(Number(id))}
            placeholder={campaigns.length === 0 ? 'None yet: create one' : 'Choose…'}
            choices={campaigns.map((campaign) => ({
              id: String(campaign.id),
              label: campaign.name,
              note: [campaign.display, campaign.origin === 'simulated' ? 'invented data' : '']
                .filter((part) => part !== '')
                .join(' · '),
            }))}
          />
          <Action onPress={() => setCreating(true)}>New campaign…</Action>
        </div>
        <TextInput
          label="Setting"
          value={draft.setting}
          maxLength={60}
          onChange={(setting) => desk.setDraft({ ...draft, setting })}
          placeholder="As in the display’s menu"
        />
        <div className="import-refresh">
          <TextInput
            label="Refresh"
            unit="Hz"
            inputMode="decimal"
            value={draft.refresh}
            maxLength={10}
            onChange={(refresh) => desk.setDraft({ ...draft, refresh })}
            error={draft.refresh.trim() !== '' && refreshOf(draft.refresh) === null ? 'From 10 to 1000.' : undefined}
          />
        </div>
        <Action
          tone="main"
          size="large"
          isDisabled={blockers.length > 0}
          isPending={props.busy}
          onPress={props.onImport}
          aria-describedby="import-blockers"
        >
          {label}
        </Action>
      </div>
      <p className="hint" id="import-blockers" role="status">
        {rows.length === 0 && campaignId !== null ? '' : blockers.join(' ')}{' '}
        {blockers.length === 0 && ready < rows.length
          ? `${plural(rows.length - ready, 'recording')} that cannot be imported ${rows.length - ready === 1 ? 'stays' : 'stay'} in the list. `
          : ''}
        {origin !== null && origin !== 'imported'
          ? `This campaign holds ${origin} data; imported recordings need a campaign of their own.`
          : ''}
      </p>
      <NewCampaign
        isOpen={creating}
        onClose={() => setCreating(false)}
        onCreated={({ id }) => {
          setCreating(false)
          props.onCampaign(id)
        }}
      />
    </section>
  )
}
