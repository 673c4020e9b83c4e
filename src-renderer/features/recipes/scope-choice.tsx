import type { Campaign, Sweep } from '#shared/domain/capture.ts'
import { SelectInput } from '../../ui/fields.tsx'
import { hertz } from '../../ui/format.ts'

export type ScopeKind = 'sweep' | 'campaign' | 'all'

export interface Scope {
  readonly campaignId?: number
  readonly sweepId?: number
}

export function scopeOf(kind: ScopeKind, sweep: Sweep | null): Scope {
  if (kind === 'all' || sweep === null) return {}
  return kind === 'sweep' ? { sweepId: sweep.id } : { campaignId: sweep.campaignId }
}

export const sweepText = (sweep: Sweep): string =>
  `Sweep ${sweep.id}: ${sweep.plan.setting} at ${hertz(sweep.plan.refreshHz)} Hz`

export function ScopeChoice(props: {
  readonly label: string
  readonly value: ScopeKind
  readonly onChange: (kind: ScopeKind) => void
  readonly sweep: Sweep | null
  readonly campaigns: readonly Campaign[]
}) {
  const { sweep } = props
  const campaign = props.campaigns.find(({ id }) => id === sweep?.campaignId)
  const choices = [
    ...(sweep === null ? [] : [{ id: 'sweep' as const, label: sweepText(sweep) }]),
    ...(campaign === undefined ? [] : [{ id: 'campaign' as const, label: `Campaign “${campaign.name}”` }]),
    { id: 'all' as const, label: 'Whole archive' },
  ]
  return <SelectInput label={props.label} value={props.value} choices={choices} onChange={props.onChange} />
}
