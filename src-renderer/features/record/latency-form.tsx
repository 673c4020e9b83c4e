import { useState } from 'react'
import { latencyPlanSchema, MAX_EVENTS, type LatencyPlan, type Reaction } from '#shared/domain/latency.ts'
import { DEFAULT_PLAN, sweepPlanSchema } from '#shared/domain/plan.ts'
import { useCommand } from '../../client/use-command.ts'
import { FlashWarning } from '../../parts/flash-warning.tsx'
import { useFlashWarning } from '../../parts/use-flash-warning.ts'
import { FieldRow, TextInput } from '../../ui/fields.tsx'
import { parseNumber } from '../../ui/parse-number.ts'
import { RecordDialog } from './record-dialog.tsx'
import { SegmentedField } from './segmented-field.tsx'

const REACTIONS = [
  { id: 'one', label: 'One patch' },
  { id: 'three', label: 'Top, centre, bottom' },
] as const
const ROWS = [
  { id: '0.05', label: 'Top' },
  { id: '0.5', label: 'Centre' },
  { id: '0.95', label: 'Bottom' },
] as const
const HANDS = [
  { id: 'rig', label: 'Pressed by the rig' },
  { id: 'person', label: 'Pressed by hand' },
] as const
const MEASURED = [
  {
    id: 'display',
    label: 'The display',
    how: 'Host and display together; a reference run tells their shares apart.',
  },
  {
    id: 'reference',
    label: 'A reference',
    how: 'A reference run measures the same host with a reference display, or a light at its output, so that the difference is the display’s own.',
  },
  {
    id: 'both',
    label: 'Both in turn',
    how: 'Display, reference, display: you are asked twice to move the sensor, and an even drift of the host cancels.',
  },
] as const

/** What a run of input latency needs to know, and what to connect for it. */
export function LatencyForm({ campaignId, onClose }: { campaignId: number; onClose: () => void }) {
  const [refresh, setRefresh] = useState('60')
  const [events, setEvents] = useState('100')
  const [reaction, setReaction] = useState<Reaction>('one')
  const [row, setRow] = useState<(typeof ROWS)[number]['id']>('0.5')
  const [press, setPress] = useState<LatencyPlan['press']>('rig')
  const [measured, setMeasured] = useState<(typeof MEASURED)[number]['id']>('display')
  const flash = useFlashWarning()
  const parsed = latencyPlanSchema.safeParse({
    refreshHz: parseNumber(refresh),
    events: parseNumber(events),
    reaction,
    row: reaction === 'one' ? 0.5 : Number(row),
    press,
    reference: measured === 'reference',
    interleave: measured === 'both',
  })
  const start = useCommand('Input latency could not be measured', (client, plan: LatencyPlan) =>
    client.latency.start({ campaignId, plan }),
  )
  const begin = (plan: LatencyPlan): void => {
    const { from, to, patch, refreshHz } = plan
    const levels = [from, to].sort((a, b) => a - b)
    const shown = sweepPlanSchema.parse({ ...DEFAULT_PLAN, levels, patch, refreshHz })
    flash.afterWarning(shown, () => {
      void start.run(plan).then((answer) => {
        if (answer !== null) onClose()
        return undefined
      })
    })
  }
  const wrong = (field: string): string | undefined =>
    parsed.error?.issues.some(({ path }) => path[0] === field) === true ? 'Not possible.' : undefined
  const [refreshError, eventsError] = [wrong('refreshHz'), wrong('events')]
  return (
    <>
      <RecordDialog
        title="Measure input latency"
        action="Start"
        possible={parsed.success}
        busy={start.busy}
        onAction={() => {
          if (parsed.success) begin(parsed.data)
        }}
        onClose={onClose}
      >
        <p className="hint">
          Each input event turns the patch from black to white, and the rig times the light from the event’s edge. The
          simulated rig needs no wires.
        </p>
        <ol className="hint latency-steps">
          <li>
            Wire the contact of a key or mouse button to the rig’s trigger input and, if it has one, to its second
            channel.
          </li>
          <li>Choose “A real screen” under Stimulus on the Bench, and hold the sensor on the patch.</li>
        </ol>
        <FieldRow>
          <TextInput
            label="Refresh"
            unit="Hz"
            inputMode="decimal"
            value={refresh}
            onChange={setRefresh}
            {...(refreshError === undefined ? {} : { error: refreshError })}
          />
          <TextInput
            label="Events"
            inputMode="numeric"
            value={events}
            onChange={setEvents}
            hint={`At least 100 for a result; at most ${MAX_EVENTS}.`}
            {...(eventsError === undefined ? {} : { error: eventsError })}
          />
        </FieldRow>
        <SegmentedField label="Patches" value={reaction} choices={REACTIONS} onChange={setReaction} />
        {reaction === 'three' ? (
          <SegmentedField label="The sensor is at the" value={row} choices={ROWS} onChange={setRow} />
        ) : null}
        <SegmentedField label="Input" value={press} choices={HANDS} onChange={setPress} />
        {press === 'person' ? (
          <p className="hint">Press once for each event, about once a second and at no even pace.</p>
        ) : null}
        <SegmentedField label="Measured" value={measured} choices={MEASURED} onChange={setMeasured} />
        <p className="hint">{MEASURED.find(({ id }) => id === measured)?.how}</p>
      </RecordDialog>
      <FlashWarning flash={flash} estimatedS={null} />
    </>
  )
}
