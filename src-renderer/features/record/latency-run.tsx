import { useState } from 'react'
import { latencyPlanSchema, MAX_EVENTS, type LatencyPlan, type Reaction } from '#shared/domain/latency.ts'
import { DEFAULT_PLAN, sweepPlanSchema } from '#shared/domain/plan.ts'
import { useHostState } from '../../client/host.tsx'
import { useCommand } from '../../client/use-command.ts'
import { FlashWarning } from '../../parts/flash-warning.tsx'
import { JobBar } from '../../parts/job-progress.tsx'
import { useFlashWarning } from '../../parts/use-flash-warning.ts'
import { Action, ModalDialog, Segmented } from '../../ui/controls.tsx'
import { FieldRow, SwitchInput, TextInput } from '../../ui/fields.tsx'
import { parseNumber } from '../../ui/parse-number.ts'

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

/** Starts a run of input events, and shows the runs under way. */
export function MeasureLatency({ campaignId }: { campaignId: number }) {
  const [asking, setAsking] = useState(false)
  const jobs = useHostState((state) => state.jobs)
  const own = jobs.filter(({ kind }) => kind === 'latency').slice(-1)
  const running = own.some(({ state }) => state === 'running')
  return (
    <div className="latency-run">
      <Action size="small" isDisabled={running} onPress={() => setAsking(true)}>
        Measure input latency…
      </Action>
      {own.map((job) => (
        <div key={job.id}>
          <JobBar job={job} cancelLabel="End here" />
          {job.problem === '' || job.state === 'running' ? null : <p className="hint">{job.problem}</p>}
        </div>
      ))}
      {asking ? <LatencyForm campaignId={campaignId} onClose={() => setAsking(false)} /> : null}
    </div>
  )
}

function LatencyForm({ campaignId, onClose }: { campaignId: number; onClose: () => void }) {
  const [refresh, setRefresh] = useState('60')
  const [events, setEvents] = useState('100')
  const [reaction, setReaction] = useState<Reaction>('one')
  const [row, setRow] = useState<(typeof ROWS)[number]['id']>('0.5')
  const [press, setPress] = useState<LatencyPlan['press']>('rig')
  const [reference, setReference] = useState(false)
  const flash = useFlashWarning()
  const parsed = latencyPlanSchema.safeParse({
    refreshHz: parseNumber(refresh),
    events: parseNumber(events),
    reaction,
    row: reaction === 'one' ? 0.5 : Number(row),
    press,
    reference,
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
      <ModalDialog
        title="Measure input latency"
        isOpen
        onClose={onClose}
        actions={
          <>
            <Action onPress={onClose}>Cancel</Action>
            <Action
              tone="main"
              isPending={start.busy}
              isDisabled={!parsed.success}
              onPress={() => {
                if (parsed.success) begin(parsed.data)
              }}
            >
              Start
            </Action>
          </>
        }
      >
        <p className="hint">
          An input event starts each record at the rig’s trigger input and makes the patch change from black to white.
          Hold the sensor on the patch. The rig and the stimulus chosen on the Bench are used.
        </p>
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
            hint={`At least 100 say something; at most ${MAX_EVENTS}.`}
            {...(eventsError === undefined ? {} : { error: eventsError })}
          />
        </FieldRow>
        <Segmented label="The page reacts with" value={reaction} choices={REACTIONS} onChange={setReaction} />
        {reaction === 'three' ? (
          <Segmented label="The sensor is at the" value={row} choices={ROWS} onChange={setRow} />
        ) : null}
        <Segmented label="The input is" value={press} choices={HANDS} onChange={setPress} />
        {press === 'person' ? (
          <p className="hint">Press once for each event, about once a second and at no even pace.</p>
        ) : null}
        <SwitchInput
          label="Reference run"
          isSelected={reference}
          onChange={setReference}
          hint="On a reference display, or a light at the host’s output: its delay is the host’s share."
        />
      </ModalDialog>
      <FlashWarning flash={flash} estimatedS={null} />
    </>
  )
}
