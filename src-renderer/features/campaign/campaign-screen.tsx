import './campaign.css'
import { useState } from 'react'

import type { Run, RunAnswer, RunProgress } from '#shared/domain/run.ts'
import { visitsOf } from '#shared/domain/campaign-plan.ts'
import { hertz } from '#shared/domain/quantity-text.ts'
import { useHostState } from '../../client/host.tsx'
import { useCampaigns, useHostQuery, useSweeps } from '../../client/queries.ts'
import { useCommand } from '../../client/use-command.ts'
import { goTo, parseRoute, useHash } from '../../navigation/route.ts'
import { FlashWarning } from '../../parts/flash-warning.tsx'
import { NewCampaign } from '../../parts/new-campaign.tsx'
import { OpenDemo } from '../../parts/open-demo.tsx'
import { useFlashWarning } from '../../parts/use-flash-warning.ts'
import { Action, EmptyState, StatusDot } from '../../ui/controls.tsx'
import { SelectInput } from '../../ui/fields.tsx'
import { duration } from '../../ui/format.ts'
import { useKept } from '../../ui/use-kept.ts'
import { type CampaignDraft, EMPTY_DRAFT, readDraft } from './campaign-draft.ts'
import { Instruction } from './instruction.tsx'
import { KeptPlans } from './kept-plans.tsx'
import { PlanForm } from './plan-form.tsx'
import { SoundSwitch, useAskingSound } from './sound.tsx'
import { SimulatedMenu } from './simulated-menu.tsx'

/** `#/campaign/<campaign>`: plan settings × refresh rates, then work through them as one run. */
export function CampaignScreen() {
  const campaigns = useCampaigns()
  const progress = useHostState((state) => state.run)
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
      <>
        <Instruction
          question={progress.question}
          position={`Sweep ${progress.index + 1} of ${progress.total}`}
          onAnswer={(answer) => void commands.answer.run(progress.runId, answer)}
          onPause={() => void commands.pause.run(progress.runId)}
        />
        <SimulatedMenu runId={progress.runId} />
      </>
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
    start: useCommand('Start the run', (client, runId: number) => client.runs.start({ runId })),
    pause: useCommand('Pause the run', (client, runId: number) => client.runs.pause({ runId })),
    answer: useCommand('Answer the run', (client, runId: number, answer: RunAnswer) =>
      client.runs.answer({ runId, answer }),
    ),
    create: useCommand('Plan the run', (client, campaignId: number, draft: CampaignDraft) => {
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
  const unfinished = (runs.data ?? []).filter(({ state }) => state !== 'finished' && state !== 'stopped')
  const { plan } = readDraft(draft)
  const flash = useFlashWarning()
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
            tone="main"
            size="large"
            isDisabled={plan === null || !ready}
            isPending={commands.create.busy || commands.start.busy}
            onPress={() => flash.afterWarning(plan?.sweep ?? null, () => void begin())}
          >
            Start the run
          </Action>
          <SoundSwitch />
          {ready ? null : <p className="hint">Connect rig and stimulus on the Bench first.</p>}
        </div>
      </section>
      <section aria-label="Earlier runs">
        <h2>Unfinished runs</h2>
        {unfinished.length === 0 ? <p className="hint">None is waiting.</p> : null}
        {unfinished.map((run) => (
          <RunRow
            key={run.id}
            run={run}
            isDisabled={!ready}
            onStart={() => flash.afterWarning(run.plan.sweep, () => void commands.start.run(run.id))}
          />
        ))}
        <h2>Finished</h2>
        {(runs.data ?? [])
          .filter(({ state }) => state === 'finished')
          .map((run) => (
            <p key={run.id}>
              {summary(run)} · <a href={`#/findings/${campaignId}`}>Findings</a>
            </p>
          ))}
      </section>
      <FlashWarning flash={flash} estimatedS={null} />
    </div>
  )
}

const summary = ({ plan }: Run): string =>
  `${plan.settings.join(', ')} at ${plan.refreshHz.map(hertz).join(', ')} Hz (${visitsOf(plan).length} sweeps)`

function RunRow({ run, isDisabled, onStart }: { run: Run; isDisabled: boolean; onStart: () => void }) {
  return (
    <div className="run-row">
      <div>
        <p>{summary(run)}</p>
        {run.reason === '' ? null : <p className="hint">{run.reason}</p>}
      </div>
      <Action isDisabled={isDisabled} onPress={onStart}>
        {run.state === 'ready' ? 'Start' : 'Resume'}
      </Action>
    </div>
  )
}

const PHASES: Readonly<Record<RunProgress['phase'], string>> = {
  asking: 'Waiting for you',
  warming: 'Warming up',
  checking: 'Checking setting and refresh rate',
  sweeping: 'Capturing',
}

function AtWork({ progress, onPause }: { progress: RunProgress; onPause: () => void }) {
  const sweeps = useSweeps(progress.campaignId)
  const sweep = useHostState((state) => state.sweep)
  const { visit, index, total, phase, warmUp, leftS } = progress
  const share = sweep === null || sweep.total === 0 ? 0 : sweep.done / sweep.total
  const left = leftS === null ? null : Math.max(0, leftS)
  return (
    <section aria-label="Run" className="run-at-work">
      <p className="run-now">{visit === null ? PHASES[phase] : `${visit.setting} at ${hertz(visit.refreshHz)} Hz`}</p>
      <p>
        {PHASES[phase]} · sweep {index + 1} of {total}
        {left === null ? '' : ` · about ${duration(left)} left in all`}
      </p>
      <progress className="run-bar" value={index + (phase === 'sweeping' ? share : 0)} max={total} aria-label="Run" />
      {warmUp === null || phase !== 'warming' ? null : (
        <p>
          White {((warmUp.points.at(-1)?.volts ?? 0) * 1000).toFixed(1)} mV,{' '}
          {warmUp.driftPctPerMin === null
            ? 'drift known after two minutes'
            : `drift ${warmUp.driftPctPerMin.toFixed(2)} % a minute`}
        </p>
      )}
      <Action size="large" onPress={onPause}>
        Pause the run
      </Action>
      <SoundSwitch />
      <table className="campaign-grid">
        <caption>Sweeps of this campaign</caption>
        <thead>
          <tr>
            <th scope="col">Setting</th>
            <th scope="col">Refresh, Hz</th>
            <th scope="col">State</th>
            <th scope="col">Captures</th>
          </tr>
        </thead>
        <tbody>
          {(sweeps.data ?? []).map(({ id, setting, refreshHz, state, done, total: planned }) => (
            <tr key={id}>
              <th scope="row">{setting}</th>
              <td>{hertz(refreshHz)}</td>
              <td>{state}</td>
              <td>
                <a href={`#/bench?campaign=${progress.campaignId}&sweep=${id}`}>
                  {done} of {planned}
                </a>
              </td>
            </tr>
          ))}
        </tbody>
      </table>
    </section>
  )
}
