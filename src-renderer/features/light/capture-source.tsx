import { useEffect } from 'react'
import { LIGHT_PARTS, type LightPart } from '#shared/domain/light.ts'
import { useHostState } from '../../client/host.tsx'
import { useCampaigns, useCapture, useCaptures, useSweeps } from '../../client/queries.ts'
import { EmptyState } from '../../ui/controls.tsx'
import { SelectInput } from '../../ui/fields.tsx'
import { hertz, pair } from '../../ui/format.ts'
import { useKept } from '../../ui/use-kept.ts'

const PARTS: Readonly<Record<LightPart, string>> = {
  after: 'After the level change',
  before: 'Before the level change',
  record: 'The whole record',
}
const PART_CHOICES = LIGHT_PARTS.toReversed().map((id) => ({ id, label: PARTS[id] }))
const LISTED = 50

export interface CaptureChoice {
  readonly captureId: number | null
  readonly part: LightPart
}

/** A steady level of a sweep: the light after (or before) a level change of one of its captures. */
export function CaptureSource(props: {
  readonly chosen: CaptureChoice
  readonly onChoose: (chosen: CaptureChoice) => void
}) {
  const { chosen, onChoose } = props
  const recipeHash = useHostState((state) => state.recipeHash)
  const campaigns = useCampaigns().data ?? []
  const [wantedCampaign, setCampaign] = useKept<number | null>('light: campaign', null)
  const campaign = campaigns.find(({ id }) => id === wantedCampaign) ?? campaigns[0] ?? null
  const sweeps = useSweeps(campaign?.id ?? null).data ?? []
  const [wantedSweep, setSweep] = useKept<number | null>('light: sweep', null)
  const sweep = sweeps.find(({ id }) => id === wantedSweep) ?? sweeps.find(({ done }) => done > 0) ?? sweeps[0] ?? null
  const [wantedLevel, setLevel] = useKept<number | null>('light: level', null)
  const levels = sweep?.plan.levels ?? []
  const level = wantedLevel !== null && levels.includes(wantedLevel) ? wantedLevel : (levels.at(-1) ?? null)
  const end = chosen.part === 'before' ? { from: level ?? 0 } : { to: level ?? 0 }
  const captures = useCaptures(
    {
      recipeHash,
      sweepId: sweep?.id ?? 0,
      verdict: 'good',
      sort: { by: 'id', descending: false },
      limit: LISTED,
      ...end,
    },
    sweep !== null && level !== null,
  )
  // Rows of the level before would be another light's.
  const rows = sweep === null || level === null || captures.isPlaceholderData ? [] : (captures.data?.rows ?? [])
  const listed = rows.some(({ info }) => info.id === chosen.captureId)
  // One that a link led to may belong to another sweep.
  const linked = useCapture(listed ? null : chosen.captureId, recipeHash).data?.info ?? null
  const offered = [...(linked === null ? [] : [linked]), ...rows.map(({ info }) => info)]
  const first = rows[0]?.info.id ?? null
  useEffect(() => {
    if (chosen.captureId === null && first !== null) onChoose({ captureId: first, part: chosen.part })
  }, [chosen, first, onChoose])

  if (campaigns.length === 0)
    return (
      <EmptyState title="Nothing is stored yet">
        Run a sweep on the Bench, or choose a recording of a steady picture.
      </EmptyState>
    )
  return (
    <>
      <SelectInput
        label="Campaign"
        value={campaign === null ? null : String(campaign.id)}
        choices={campaigns.map(({ id, name }) => ({ id: String(id), label: name }))}
        onChange={(id) => {
          setCampaign(Number(id))
          onChoose({ ...chosen, captureId: null })
        }}
      />
      <SelectInput
        label="Sweep"
        value={sweep === null ? null : String(sweep.id)}
        choices={sweeps.map(({ id, plan }) => ({
          id: String(id),
          label: `${id}: ${plan.setting}, ${hertz(plan.refreshHz)} Hz`,
        }))}
        onChange={(id) => {
          setSweep(Number(id))
          onChoose({ ...chosen, captureId: null })
        }}
      />
      <SelectInput
        label="Steady light"
        value={chosen.part}
        choices={PART_CHOICES}
        onChange={(part) => onChoose({ captureId: null, part })}
      />
      <SelectInput
        label="At level"
        unit="code"
        value={level === null ? null : String(level)}
        choices={levels.map((code) => ({ id: String(code), label: String(code) }))}
        onChange={(code) => {
          setLevel(Number(code))
          onChoose({ ...chosen, captureId: null })
        }}
      />
      <SelectInput
        label="Capture"
        value={chosen.captureId === null ? null : String(chosen.captureId)}
        choices={offered.map((info) => ({
          id: String(info.id),
          label: `${info.id}: ${pair(info.from, info.to)}, repeat ${info.repeat}`,
        }))}
        placeholder={offered.length === 0 ? 'none at this level' : 'Choose…'}
        isDisabled={offered.length === 0}
        onChange={(id) => onChoose({ ...chosen, captureId: Number(id) })}
      />
    </>
  )
}
