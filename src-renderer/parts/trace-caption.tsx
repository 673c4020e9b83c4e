import type { CaptureInfo, Sweep } from '#shared/domain/capture.ts'
import { useCampaigns } from '../client/queries.ts'
import { hertz, pair } from '../ui/format.ts'

export interface TraceCaptionProps {
  readonly info: Pick<CaptureInfo, 'id' | 'from' | 'to' | 'repeat' | 'attempt'>
  /** null while it is being read. */
  readonly sweep: Sweep | null
  /** Name of the recipe the marks and numbers were made under. */
  readonly recipe: string
}

/** Whose trace a plot shows, and by which recipe its marks were set: so that no plot can be taken for another's. */
export function TraceCaption({ info, sweep, recipe }: TraceCaptionProps) {
  const campaign = useCampaigns().data?.find(({ id }) => id === sweep?.campaignId) ?? null
  const display = campaign === null ? '' : campaign.display === '' ? campaign.name : campaign.display
  const parts = [
    display,
    campaign?.origin === 'simulated' && !/invented/i.test(display) ? 'invented data' : '',
    ...(sweep === null ? [] : [sweep.plan.setting, `${hertz(sweep.plan.refreshHz)} Hz`]),
    pair(info.from, info.to),
    `repeat ${info.repeat}${info.attempt > 1 ? `, attempt ${info.attempt}` : ''}`,
  ].filter((part) => part !== '')
  const text = parts.join(' · ')
  return (
    <p className="trace-caption" title={`${text} · recipe ${recipe}`}>
      <span className="trace-caption-origin">{text}</span>
      <span className="trace-caption-recipe">{recipe}</span>
    </p>
  )
}
