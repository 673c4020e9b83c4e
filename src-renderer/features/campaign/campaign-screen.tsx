import './campaign.css'
import { useState } from 'react'

import { leftInAll, type Run, type RunAnswer, type RunProgress } from '#shared/domain/run.ts'
import { visitsOf } from '#shared/domain/campaign-plan.ts'
import { hertz } from '#shared/domain/quantity-text.ts'
import { useHostState } from '../../client/host.tsx'
import { useCampaigns, useHostQuery } from '../../client/queries.ts'
import { useCommand } from '../../client/use-command.ts'
import { goTo, parseRoute, useHash } from '../../navigation/route.ts'
import { FlashWarning } from '../../parts/flash-warning.tsx'
import { NewCampaign } from '../../parts/new-campaign.tsx'
import { OpenDemo } from '../../parts/open-demo.tsx'
import { useFlashWarning } from '../../parts/use-flash-warning.ts'
import { Action, EmptyState, StatusDot } from '../../ui/controls.tsx'
import { SelectInput } from '../../ui/fields.tsx'
import { duration } from '#shared/domain/quantity-text.ts'
import { useHeldFocus } from '../../ui/use-held-focus.ts'
import { useKept } from '../../ui/use-kept.ts'
import { type CampaignDraft, EMPTY_DRAFT, readDraft } from './campaign-draft.ts'
import { Instruction } from './instruction.tsx'
import { KeptPlans } from './kept-plans.tsx'
import { PlanForm } from './plan-form.tsx'
import { RunGrid } from './run-grid.tsx'
import { SoundSwitch, useAskingSound } from './sound.tsx'
import { SimulatedMenu } from './simulated-menu.tsx'

/** `#/campaign/<campaign>`: plan settings × refresh rates, then work through them as one run. */
export function CampaignScreen() {
  const campaigns = useCampaigns()
  const progress = useHostState((state) => state.run)
  const asking = useHeldFocus<HTMLDivElement>()
  const { rest } = parseRoute(useHash())
  const known = campaigns.data ?? []
  const chosen =
    known.find(({ id }) => id === progress?.campaignId) ??
    known.find(({ id }) => String(id) === rest) ??
    known.at(-1) ??
    null
  const commands = useRunCommands()
  const [isNaming, setNaming] = useState(false)
  useAskingSound(progress?.question ?? null)
  if (campaigns.data === undefined) return <p className="hint">Reading the campaigns…</p>
  if (progress?.question != null)
    return (
      <div ref={asking} className="asking">
        <Instruction
          question={progress.question}
          position={`Sweep ${progress.index + 1} of ${progress.total}`}
          onAnswer={(answer) => void commands.answer.run(progress.runId, answer)}
          onPause={() => void commands.pause.run(progress.runId)}
        />
        <SimulatedMenu runId={progress.runId} />
      </div>
    )
  return (
    <div className="campaign">
      <header className="campaign-head">
        <SelectInput
          label="Campaign"
          value={chosen === null ? null : String(chosen.id)}
          choices={known.map(({ id, name, display }) => ({ id: String(id), label: name, note: display }))}
          isDisabled={progress !== null}
          onChange={(id) => goTo(`#/campaign/${id}`)}
        />
        <Action onPress={() => setNaming(true)}>New campaign…</Action>
        <NewCampaign
          isOpen={isNaming}
          onClose={() => setNaming(false)}
          onCreated={({ id }) => {
            setNaming(false)
            goTo(`#/campaign/${id}`)
          }}
        />
        {chosen?.origin === 'simulated' ? <StatusDot tone="warn">Invented display, simulated rig</StatusDot> : null}
      </header>
      {chosen === null ? (
        <EmptyState title="No campaign yet">
          A campaign holds all work on one display. Create one with <em>New campaign</em> above, or look at invented
          ones. <OpenDemo />
        </EmptyState>
      ) : progress !== null ? (
        <AtWork progress={progress} onPause={() => void commands.pause.run(progress.runId)} />
      ) : (
        <Planning key={chosen.id} campaignId={chosen.id} commands={commands} />
      )}
    </div>
  )
}

function useRunCommands() {
  return {
    start: useCommand('The run could not be started', (client, runId: number) => client.runs.start({ runId })),
    pause: useCommand('The run could not be paused', (client, runId: number) => client.runs.pause({ runId })),
    answer: useCommand('The run could not be answered', (client, runId: number, answer: RunAnswer) =>
      client.runs.answer({ runId, answer }),
    ),
    create: useCommand('The run could not be planned', (client, campaignId: number, draft: CampaignDraft) => {
      const { plan } = readDraft(draft)
      if (plan === null) throw new Error('The plan is not complete.')
      return client.runs.create({ campaignId, plan })
    }),
  }
}

function Planning({ campaignId, commands }: { campaignId: number; commands: ReturnType<typeof useRunCommands> }) {
  const [draft, setDraft] = useKept<CampaignDraft>('campaign-draft', EMPTY_DRAFT)
  const runs = useHostQuery(['sweeps', 'runs', campaignId], (client, signal) =>
    client.runs.list({ campaignId }, { signal }),
  )
  const ready = useHostState((state) => state.rig.status === 'ready' && state.stimulus.connected)
  const finished = (runs.data ?? []).filter(({ state }) => state === 'finished')
  const unfinished = (runs.data ?? []).filter(({ state }) => state !== 'finished' && state !== 'stopped')
  const { plan } = readDraft(draft)
  const flash = useFlashWarning()
  // Kept here: a run that is changed moves between the two lists, and stays open there.
  const [opened, open] = useState<readonly number[]>([])
  const opening = ({ id }: Run) => ({
    isOpen: opened.includes(id),
    onOpen: (isOpen: boolean) => open((before) => [...before.filter((other) => other !== id), ...(isOpen ? [id] : [])]),
  })
  const begin = async (): Promise<void> => {
    const made = await commands.create.run(campaignId, draft)
    if (made !== null) await commands.start.run(made.id)
  }
  return (
    <div className="campaign-columns">
      <section aria-label="Plan">
        <h2>Plan a run</h2>
        <PlanForm draft={draft} onChange={setDraft} />
        <KeptPlans plan={plan} onLoad={setDraft} />
        <div className="campaign-start">
          <Action
            tone={unfinished.length === 0 ? 'main' : 'plain'}
            size="large"
            isDisabled={plan === null || !ready}
            isPending={commands.create.busy || commands.start.busy}
            onPress={() => flash.afterWarning(plan?.sweep ?? null, () => void begin())}
          >
            Start the run
          </Action>
          <SoundSwitch />
          {plan === null ? <p className="hint">Correct the plan above first.</p> : null}
          {ready ? null : <p className="hint">Connect rig and stimulus on the Bench first.</p>}
        </div>
      </section>
      <section aria-label="Earlier runs">
        <h2>Unfinished runs</h2>
        {unfinished.length === 0 ? <p className="hint">No run is waiting.</p> : null}
        {unfinished.map((run, i) => (
          <RunRow
            key={run.id}
            run={run}
            leads={i === 0}
            isDisabled={!ready}
            opening={opening(run)}
            onStart={() => flash.afterWarning(run.plan.sweep, () => void commands.start.run(run.id))}
          />
        ))}
        {finished.length === 0 ? null : <h2>Finished runs</h2>}
        {finished.map((run) => (
          <div key={run.id}>
            <p>
              {summary(run)} · <a href={`#/findings/${campaignId}`}>Findings</a>
            </p>
            <RunSweeps run={run} {...opening(run)} />
          </div>
        ))}
      </section>
      <FlashWarning flash={flash} estimatedS={null} />
    </div>
  )
}

const summary = ({ plan }: Run): string =>
  `${plan.settings.join(', ')} at ${plan.refreshHz.map(hertz).join(', ')} Hz (${visitsOf(plan).length} sweeps)`

function RunRow(props: {
  readonly run: Run
  /** Its button is the main one of the screen. */
  readonly leads: boolean
  readonly isDisabled: boolean
  readonly opening: Opening
  readonly onStart: () => void
}) {
  const { run, leads, isDisabled, opening, onStart } = props
  return (
    <>
      <div className="run-row">
        <div>
          <p>{summary(run)}</p>
          {run.reason === '' ? null : <p className="hint">{run.reason}</p>}
        </div>
        <Action tone={leads ? 'main' : 'plain'} isDisabled={isDisabled} onPress={onStart}>
          {run.state === 'ready' ? 'Start' : 'Resume'}
        </Action>
      </div>
      <RunSweeps run={run} {...opening} />
    </>
  )
}

interface Opening {
  readonly isOpen: boolean
  readonly onOpen: (isOpen: boolean) => void
}

/** Opened on request: what was taken of a run that rests, and what to do about it. */
function RunSweeps({ run, isOpen, onOpen }: Opening & { readonly run: Run }) {
  return (
    <details className="run-sweeps" open={isOpen} onToggle={(event) => onOpen(event.currentTarget.open)}>
      <summary>Sweeps of this run: skip, take again, bring back</summary>
      {isOpen ? <RunGrid run={run} atWork={null} /> : null}
    </details>
  )
}

/** Time left is an estimate: no finer than this, s. */
const LEFT_STEP_S = 10

const PHASES: Readonly<Record<RunProgress['phase'], string>> = {
  asking: 'Waiting for you',
  warming: 'Warming up',
  checking: 'Checking setting and refresh rate',
  sweeping: 'Capturing',
  waiting: 'Waiting for the rig or the display, which is gone',
}

function AtWork({ progress, onPause }: { progress: RunProgress; onPause: () => void }) {
  const runs = useHostQuery(['sweeps', 'runs', progress.campaignId], (client, signal) =>
    client.runs.list({ campaignId: progress.campaignId }, { signal }),
  )
  const run = runs.data?.find(({ id }) => id === progress.runId)
  const sweep = useHostState((state) => state.sweep)
  const { visit, index, total, done, phase, warmUp } = progress
  const share =
    phase !== 'sweeping' || sweep === null || sweep.sweepId !== progress.sweepId || sweep.total === 0
      ? 0
      : sweep.done / sweep.total
  const left = leftInAll(progress, sweep)
  const target = run?.plan.warmUp?.driftPctPerMin
  const skip = useCommand('The sweep could not be skipped', (client, sweepId: number) =>
    client.runs.skip({ runId: progress.runId, sweepId }),
  )
  return (
    <section aria-label="Run" className="run-at-work">
      <p className="run-now">{visit === null ? PHASES[phase] : `${visit.setting} at ${hertz(visit.refreshHz)} Hz`}</p>
      <p>
        {PHASES[phase]} · sweep {index + 1} of {total}
        {left === null ? '' : ` · about ${duration(LEFT_STEP_S * Math.ceil(left / LEFT_STEP_S))} left in all`}
      </p>
      <progress className="run-bar" value={done + share} max={total} aria-label="Run" />
      {warmUp === null || phase !== 'warming' ? null : (
        <p>
          White {((warmUp.points.at(-1)?.volts ?? 0) * 1000).toFixed(1)} mV,{' '}
          {warmUp.driftPctPerMin === null
            ? 'drift known after two minutes'
            : `drift ${warmUp.driftPctPerMin.toFixed(2)} % a minute${target === undefined ? '' : `, goes on under ${target} %`}`}
        </p>
      )}
      <div className="run-cell-row">
        <Action size="large" onPress={onPause}>
          Pause the run
        </Action>
        {progress.sweepId === null ? null : (
          <Action size="large" isPending={skip.busy} onPress={() => void skip.run(progress.sweepId ?? 0)}>
            Skip this sweep
          </Action>
        )}
      </div>
      <SoundSwitch />
      {run === undefined ? null : (
        <div className="run-plan">
          <h2>Sweeps of this run</h2>
          <RunGrid run={run} atWork={progress.sweepId} />
        </div>
      )}
    </section>
  )
}
