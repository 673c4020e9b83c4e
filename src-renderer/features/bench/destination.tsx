/** Which campaign the next sweep goes into. Simulated and measured data never share one. */
import { useState } from 'react'
import type { Campaign } from '#shared/domain/capture.ts'
import { NewCampaign } from '../../parts/new-campaign.tsx'
import { Action } from '../../ui/controls.tsx'
import { SelectInput } from '../../ui/fields.tsx'

export type Target = Campaign | { readonly newName: string }

const NEW = 'new'
const NEW_NAME = 'Simulated bench'

/** A campaign takes the kind of data its first sweep brought, and no other. */
export const takes = ({ origin }: Campaign, simulated: boolean): boolean =>
  origin === null || origin === (simulated ? 'simulated' : 'measured')

/**
 * Where a sweep of this rig would go: the campaign in view if it holds data of the same kind, else the newest that does,
 * else a new one for the simulated rig. Null when a campaign has to be made by a person.
 */
export function targetFor(campaigns: readonly Campaign[], inView: Campaign | null, simulated: boolean): Target | null {
  const fits = (campaign: Campaign): boolean => takes(campaign, simulated)
  if (inView !== null && fits(inView)) return inView
  return campaigns.findLast(fits) ?? (simulated ? { newName: NEW_NAME } : null)
}

export interface DestinationProps {
  readonly campaigns: readonly Campaign[]
  readonly inView: Campaign | null
  readonly target: Target | null
  readonly simulated: boolean
  readonly onChoose: (target: Target) => void
}

export function Destination({ campaigns, inView, target, simulated, onChoose }: DestinationProps) {
  const [creating, setCreating] = useState(false)
  const fitting = campaigns.filter((campaign) => takes(campaign, simulated))
  const differs = inView !== null && !takes(inView, simulated)
  return (
    <div className="destination">
      <SelectInput
        label="Campaign"
        placeholder="None yet"
        value={target === null ? null : 'id' in target ? String(target.id) : NEW}
        onChange={(id) => {
          const chosen = fitting.find((campaign) => String(campaign.id) === id)
          onChoose(chosen ?? { newName: NEW_NAME })
        }}
        choices={[
          ...fitting.map(({ id, name, display }) => ({ id: String(id), label: name, note: display })),
          ...(simulated ? [{ id: NEW, label: `New: ${NEW_NAME}`, note: 'Marked as simulated' }] : []),
        ]}
        {...(differs
          ? {
              hint: `“${inView.name}” holds ${inView.origin} data; ${simulated ? 'simulated' : 'measured'} sweeps go into a campaign of their own.`,
            }
          : {})}
      />
      <Action size="small" onPress={() => setCreating(true)}>
        New campaign…
      </Action>
      <NewCampaign
        isOpen={creating}
        onClose={() => setCreating(false)}
        onCreated={(campaign) => {
          setCreating(false)
          onChoose(campaign)
        }}
      />
    </div>
  )
}
