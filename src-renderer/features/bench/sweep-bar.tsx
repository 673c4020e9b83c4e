/** Campaign and sweep in view, how far it is, and the one action that makes sense now. */
import { memo, useState } from 'react'
import type { Campaign, Sweep, SweepState } from '#shared/domain/capture.ts'
import { useHost } from '../../client/host.tsx'
import { useStable } from '../../ui/use-stable.ts'
import { Action, StatusDot } from '../../ui/controls.tsx'
import { SelectInput } from '../../ui/fields.tsx'
import { clockTime, hertz, pair, plural } from '../../ui/format.ts'
import { canStart, isActive, SWEEP_STATE_WORDS } from '../../ui/words.ts'
import { Manage } from './manage.tsx'
import { Progress } from './progress.tsx'
import type { SweepCommands } from './use-sweep-commands.ts'
import type { BenchView } from './use-view.ts'

export interface SweepBarProps {
  readonly view: BenchView
  readonly commands: SweepCommands
  /** The plan of the next sweep is in view instead of a sweep. */
  readonly planning: boolean
  readonly onPlan: (planning: boolean) => void
  /** Captures of the sweep that people sent back and that can be taken again. */
  readonly retakes: number
}

const TONES = {
  ready: 'idle',
  ladder: 'good',
  running: 'good',
  paused: 'warn',
  finished: 'good',
  stopped: 'idle',
  failed: 'bad',
} as const

function sweepName({ id, name, setting, refreshHz }: Sweep): string {
  return `${id}: ${name === '' ? '' : `${name}, `}${setting}, ${hertz(refreshHz)} Hz`
}

export function SweepBar(props: SweepBarProps) {
  const { view, commands, planning } = props
  const { sweep, progress, campaign } = view
  const heard = useHost((snapshot) => snapshot.link === 'open')
  const [managing, setManaging] = useState(false)
  const chooseCampaign = useStable(view.chooseCampaign)
  const chooseSweep = useStable((id: number) => {
    view.chooseSweep(id)
    props.onPlan(false)
  })
  const onPause = useStable(() => commands.pause(sweep?.id ?? 0))
  const onStop = useStable(() => commands.stop(sweep?.id ?? 0))
  const onResume = useStable(() => {
    if (sweep !== null) commands.resume(sweep)
  })
  const state = progress?.state ?? sweep?.state ?? null
  const reason = progress?.reason ?? sweep?.reason ?? ''
  // Nothing to choose from yet: the plan says all there is to say.
  if (view.campaigns.length === 0 && sweep === null) return null
  return (
    <section className="pane sweep-bar" aria-label="Progress">
      <CampaignPick
        campaigns={view.campaigns}
        campaign={campaign}
        isDisabled={view.running}
        onChoose={chooseCampaign}
      />
      <SweepPick sweeps={view.sweeps} sweep={sweep} isDisabled={view.running} onChoose={chooseSweep} />
      {campaign === null || view.running ? null : (
        <>
          <Action size="small" tone="quiet" onPress={() => setManaging(true)}>
            Edit…
          </Action>
          <Manage campaign={campaign} isOpen={managing} onClose={() => setManaging(false)} />
        </>
      )}
      <div className="sweep-bar-state">
        {planning ? null : sweep === null || state === null ? (
          <strong>No sweep in view</strong>
        ) : (
          <>
            <StatusDot tone={heard ? TONES[state] : 'warn'}>
              {SWEEP_STATE_WORDS[state]}
              {heard ? '' : ' when last heard'}
            </StatusDot>
            <Progress sweep={sweep} progress={progress} />
            {reason === '' ? <Now progress={progress} /> : <span className="sweep-bar-reason">{reason}</span>}
          </>
        )}
      </div>
      {sweep === null || state === null ? null : planning ? (
        <div className="sweep-bar-actions">
          <Action onPress={() => props.onPlan(false)}>Back to sweep {sweep.id}</Action>
        </div>
      ) : (
        <Actions
          state={state}
          fromRig={sweep.origin !== 'imported'}
          heard={heard}
          obstacle={commands.obstacle}
          busy={commands.busy}
          running={view.running}
          retakes={props.retakes}
          onPause={onPause}
          onResume={onResume}
          onStop={onStop}
          onPlan={props.onPlan}
        />
      )}
    </section>
  )
}

const CampaignPick = memo(function CampaignPick(props: {
  campaigns: readonly Campaign[]
  campaign: Campaign | null
  isDisabled: boolean
  onChoose: (id: number) => void
}) {
  const { campaigns, campaign, onChoose } = props
  return (
    <div className="bare sweep-bar-pick">
      <SelectInput
        label="Campaign in view"
        value={campaign === null ? null : String(campaign.id)}
        onChange={(id) => onChoose(Number(id))}
        isDisabled={props.isDisabled}
        choices={campaigns.map(({ id, name, display, origin }) => ({
          id: String(id),
          label: name,
          note: [display, origin ?? ''].filter((part) => part !== '').join(' · '),
        }))}
      />
      {campaign?.origin === 'simulated' ? (
        <span className="tag" title="Every number of this campaign is invented.">
          simulated
        </span>
      ) : null}
    </div>
  )
})

interface SweepPickProps {
  readonly sweeps: readonly Sweep[]
  readonly sweep: Sweep | null
  readonly isDisabled: boolean
  readonly onChoose: (id: number) => void
}

const SweepPick = memo(
  function SweepPick({ sweeps, sweep, isDisabled, onChoose }: SweepPickProps) {
    return (
      <div className="bare sweep-bar-pick">
        {sweeps.length === 0 ? (
          <span className="hint">No sweep yet</span>
        ) : (
          <SelectInput
            label="Sweep in view"
            value={sweep === null ? null : String(sweep.id)}
            onChange={(id) => onChoose(Number(id))}
            isDisabled={isDisabled}
            choices={sweeps.map((one) => ({
              id: String(one.id),
              label: sweepName(one),
              note: `${SWEEP_STATE_WORDS[one.state]}, ${one.done} of ${one.total}, ${clockTime(one.createdAt)}`,
            }))}
          />
        )}
      </div>
    )
  },
  // While a sweep runs the choice is closed, and its name is all that is seen of it.
  (before, now) =>
    before.onChoose === now.onChoose &&
    before.isDisabled === now.isDisabled &&
    (now.isDisabled
      ? before.sweeps.length === now.sweeps.length && nameOf(before.sweep) === nameOf(now.sweep)
      : before.sweeps === now.sweeps && before.sweep === now.sweep),
)

const nameOf = (sweep: Sweep | null): string => (sweep === null ? '' : sweepName(sweep))

function Now({ progress }: Pick<BenchView, 'progress'>) {
  const current = progress?.current ?? null
  if (current === null) return null
  return (
    <span className="minor">
      {pair(current.from, current.to)}, repeat {current.repeat}
      {current.attempt > 1 ? `, attempt ${current.attempt}` : ''}
    </span>
  )
}

interface ActionsProps {
  readonly state: SweepState
  readonly fromRig: boolean
  /** The host is heard. */
  readonly heard: boolean
  readonly obstacle: string
  readonly busy: boolean
  /** Some sweep runs. */
  readonly running: boolean
  readonly retakes: number
  readonly onPause: () => void
  readonly onResume: () => void
  readonly onStop: () => void
  readonly onPlan: (planning: boolean) => void
}

/** Plain values only, so that a new capture draws no button anew. */
const Actions = memo(function Actions(props: ActionsProps) {
  const { state, fromRig, heard, obstacle, busy, retakes, onResume } = props
  const blocked = obstacle !== ''
  const runsRetakes = state === 'finished' && retakes > 0 && fromRig
  const goesOn = (canStart(state) && state !== 'stopped' && fromRig) || runsRetakes
  return (
    <div className="sweep-bar-actions">
      {goesOn && blocked ? <span className="warn-text">{obstacle}</span> : null}
      {isActive(state) ? (
        <Action size="large" isDisabled={!heard} isPending={busy} onPress={props.onPause}>
          Pause
        </Action>
      ) : null}
      {goesOn ? (
        <Action tone="main" size="large" isDisabled={blocked} isPending={busy} onPress={onResume}>
          {runsRetakes ? `Run ${plural(retakes, 'retake')}` : state === 'ready' ? 'Start' : 'Resume'}
        </Action>
      ) : null}
      {isActive(state) || state === 'paused' ? (
        <Action tone="danger" size="large" isDisabled={!heard} onPress={props.onStop}>
          Stop
        </Action>
      ) : null}
      {state === 'stopped' && fromRig ? (
        <Action isDisabled={blocked} isPending={busy} onPress={onResume}>
          Resume
        </Action>
      ) : null}
      {props.running || (goesOn && !runsRetakes) ? null : (
        <Action tone={goesOn ? 'plain' : 'main'} size="large" onPress={() => props.onPlan(true)}>
          Plan next sweep
        </Action>
      )}
    </div>
  )
})
