import { useCallback, useEffect, useMemo, useState } from 'react'
import type { SweepPlan } from '#shared/domain/plan.ts'
import { parseRoute } from '../../navigation/route.ts'
import { useHost, useHostState } from '../../client/host.tsx'
import { useCampaigns, useHostQuery, useRecipes, useSweeps } from '../../client/queries.ts'
import { useCommand } from '../../client/use-command.ts'
import { useShortcut } from '../../ui/shortcuts.ts'
import { useStable } from '../../ui/use-stable.ts'
import { readStored, writeStored } from '../../ui/storage.ts'
import { useMedia } from '../../ui/use-media.ts'
import { canStart, isActive, SWEEP_STATE_WORDS } from '../../ui/words.ts'
import { BenchTabs } from './bench-tabs.tsx'
import { CampaignCard } from './campaign-card.tsx'
import { CellCaptures } from './cell-captures.tsx'
import { linkedSweep } from '../../navigation/linked-sweep.ts'
import { FlashWarning } from './flash-dialogs.tsx'
import type { CellKey } from './matrix-grid.tsx'
import { MatrixPane } from './matrix-pane.tsx'
import type { MatrixMeasure } from '../../ui/measures-shown.ts'
import { PlanCard } from './plan-card.tsx'
import { readDraft, restoreDraft, type PlanDraft } from './plan-draft.ts'
import { ProgressStrip } from './progress-strip.tsx'
import { useRetakes } from './retake-list.tsx'
import { RigCard } from './rig-card.tsx'
import { StimulusCard } from './stimulus-card.tsx'
import { TracePane } from './trace-pane.tsx'
import { useSettled } from '../../ui/use-settled.ts'
import './bench.css'
import './progress.css'
import './trace-pane.css'
import './matrix-pane.css'
import './captures.css'
import './set-up.css'

const DRAFT_KEY = 'plan-draft'
const CAMPAIGN_KEY = 'campaign'
const CHECK_DELAY_MS = 250
/** From this width on the matrix stands beside captures and events instead of sharing their tabs. */
const WIDE = '(min-width: 1200px)'

interface Selection {
  readonly sweepId: number | null
  readonly cell: CellKey | null
  /** Stored capture in the plot; null shows the live trace. */
  readonly captureId: number | null
}
const NOTHING: Selection = { sweepId: null, cell: null, captureId: null }

export function BenchScreen() {
  const rigReady = useHostState(({ rig }) => rig.status === 'ready' || rig.status === 'recording')
  const rigLost = useHostState(({ rig }) => rig.status === 'lost')
  const simulated = useHostState(({ rig }) => rig.target?.kind === 'simulated')
  const hostSweep = useHostState((state) => state.sweep)
  const recipeHash = useHostState((state) => state.recipeHash)
  const acknowledged = useHostState((state) => state.warningAcknowledged)
  const heard = useHost((snapshot) => snapshot.link === 'open')
  const campaigns = useCampaigns()
  const recipes = useRecipes()
  const [linked] = useState(() => linkedSweep(parseRoute(location.hash).parameters))
  const [chosenCampaign, setChosenCampaign] = useState<number | null>(() => {
    const stored = linked.campaignId ?? readStored(CAMPAIGN_KEY)
    return typeof stored === 'number' ? stored : null
  })
  const campaignId = campaigns.data?.find(({ id }) => id === chosenCampaign)?.id ?? campaigns.data?.at(-1)?.id ?? null
  const sweeps = useSweeps(campaignId)
  const [chosenSweep, setChosenSweep] = useState<number | null>(linked.sweepId)
  const [draft, setDraftState] = useState<PlanDraft>(() => restoreDraft(readStored(DRAFT_KEY)))
  const [measure, setMeasure] = useState<MatrixMeasure>('transition_duration_s')
  const [selection, setSelection] = useState<Selection>(NOTHING)
  const [setUpOpen, setSetUpOpen] = useState(true)
  const [tab, setTab] = useState(() => (matchMedia(WIDE).matches ? 'log' : 'matrix'))
  const [warning, setWarning] = useState<{ run: () => void; plan: SweepPlan | null } | null>(null)

  const setDraft = useCallback((next: PlanDraft) => {
    setDraftState(next)
    writeStored(DRAFT_KEY, next)
  }, [])
  const chooseCampaign = useCallback((id: number) => {
    setChosenCampaign(id)
    setChosenSweep(null)
    writeStored(CAMPAIGN_KEY, id)
  }, [])

  // A sweep that is running is always the one in view; else the chosen one, else the host's last.
  const running = hostSweep !== null && isActive(hostSweep.state)
  const sweepId = running ? hostSweep.sweepId : (chosenSweep ?? hostSweep?.sweepId ?? null)
  const listed = sweeps.data?.find(({ id }) => id === sweepId) ?? null
  const elsewhere = useHostQuery(
    ['sweeps', 'one', sweepId],
    (client, signal) => client.sweeps.get({ sweepId: sweepId ?? 0 }, { signal }),
    { enabled: sweepId !== null && listed === null && sweeps.isSuccess },
  )
  const sweep = listed ?? (sweepId === null ? null : (elsewhere.data ?? null))
  const progress = hostSweep !== null && hostSweep.sweepId === sweepId ? hostSweep : null

  // What was chosen in another sweep means nothing in this one.
  const { cell, captureId } = selection.sweepId === sweepId ? selection : NOTHING
  const setCaptureId = useCallback(
    (id: number | null) => setSelection({ sweepId, cell, captureId: id }),
    [sweepId, cell],
  )
  const openCell = useCallback(
    (next: CellKey) => {
      setSelection({ sweepId, cell: next, captureId })
      setTab('cell')
    },
    [sweepId, captureId],
  )

  const reading = useMemo(() => readDraft(draft), [draft])
  const settledPlan = useSettled(reading.plan, CHECK_DELAY_MS)
  const check = useHostQuery(
    ['check', settledPlan],
    (client, signal) => client.sweeps.check({ plan: settledPlan }, { signal }),
    { enabled: settledPlan !== null, keep: true },
  )
  const planCheck = reading.plan === null ? null : (check.data ?? null)

  const acknowledge = useCommand('The warning could not be acknowledged', (client) =>
    client.system.acknowledgeWarning({ understood: true }),
  )
  const create = useCommand('The sweep could not be created', async (client, plan: SweepPlan) => {
    const id =
      campaignId ?? (await client.campaigns.create({ name: 'Simulated bench', display: 'Invented display' })).id
    setChosenCampaign(id)
    return client.sweeps.create({ campaignId: id, plan })
  })
  const start = useCommand('The sweep could not start', (client, id: number) => client.sweeps.start({ sweepId: id }))
  const resume = useCommand('The sweep could not go on', (client, id: number) => client.sweeps.resume({ sweepId: id }))
  const pause = useCommand('The sweep could not be paused', (client, id: number) =>
    client.sweeps.pause({ sweepId: id }),
  )
  const stop = useCommand('The sweep could not be stopped', (client, id: number) => client.sweeps.stop({ sweepId: id }))
  const busy = create.busy || start.busy || resume.busy || pause.busy || stop.busy || acknowledge.busy

  const blockers = useMemo(() => {
    const list: string[] = []
    if (!rigReady) list.push(rigLost ? 'The rig does not answer.' : 'Connect a rig.')
    // A real display is worth a name; the first try on the simulated rig gets one by itself.
    if (campaignId === null && !simulated) list.push('Create or choose a campaign.')
    if (reading.plan === null) list.push('Correct the plan.')
    else if ((planCheck?.problems.length ?? 0) > 0) list.push('Solve what the plan check found.')
    if (running) list.push('A sweep is running.')
    if (!heard) list.unshift('Wait for the host.')
    return list
  }, [rigReady, rigLost, simulated, campaignId, reading.plan, planCheck, running, heard])

  /** Runs at once when the warning was acknowledged on this machine, else after it is. */
  const afterWarning = (plan: SweepPlan | null, run: () => void) => {
    if (acknowledged) run()
    else setWarning({ plan, run })
  }
  const startNew = useStable(() => {
    const { plan } = reading
    if (plan === null || blockers.length > 0) return
    afterWarning(plan, () => {
      void (async () => {
        const created = await create.run(plan)
        if (created === null) return
        setChosenSweep(created.id)
        setCaptureId(null)
        await start.run(created.id)
      })()
    })
  })
  const goOn = (id: number) => {
    setCaptureId(null)
    afterWarning(sweep?.plan ?? null, () => void resume.run(id))
  }

  const sweepState = progress?.state ?? sweep?.state ?? null
  const toggleRun = () => {
    if (busy) return
    if (running && hostSweep !== null) void pause.run(hostSweep.sweepId)
    else if (sweep !== null && sweepState !== null && sweepState !== 'stopped' && canStart(sweepState)) goOn(sweep.id)
    else startNew()
  }
  useShortcut('run', toggleRun)
  useShortcut('stop', () => void stop.run(sweepId ?? 0), sweepId !== null && (running || sweepState === 'paused'))
  useShortcut(
    'setup',
    useCallback(() => setSetUpOpen((open) => !open), []),
  )

  // Seen in the task bar while another window is in front; a share, since every change of a title is dear.
  const share = progress === null || progress.total === 0 ? 0 : Math.floor((100 * progress.done) / progress.total)
  const summary = progress === null ? '' : `${share} % ${SWEEP_STATE_WORDS[progress.state]} – `
  useEffect(() => {
    document.title = `${summary}Slewlight`
  }, [summary])
  useEffect(
    () => () => {
      document.title = 'Slewlight'
    },
    [],
  )

  const retakes = useRetakes()
  const retakesHere = retakes.filter((entry) => entry.sweepId === sweepId && entry.obstacle === '').length
  const runRetakes = useStable((id: number) => {
    setChosenSweep(id)
    goOn(id)
  })

  const recipe = recipes.data?.find(({ hash }) => hash === recipeHash)?.recipe ?? null
  const backToLive = useCallback(() => setCaptureId(null), [setCaptureId])
  const wide = useMedia(WIDE)

  const matrix = (
    <MatrixPane
      sweep={sweep}
      recipeHash={recipeHash}
      recipeName={recipe?.name ?? recipeHash}
      measure={measure}
      onMeasure={setMeasure}
      selected={cell}
      current={progress?.current ?? null}
      onOpen={openCell}
    />
  )
  const captures = (
    <CellCaptures
      sweep={sweep}
      cell={cell}
      recipeHash={recipeHash}
      measure={measure}
      captureId={captureId}
      onCapture={setCaptureId}
    />
  )
  return (
    <div className="bench" data-setup={setUpOpen}>
      {setUpOpen ? (
        <aside className="bench-setup" aria-label="Set-up">
          <RigCard />
          <StimulusCard />
          <CampaignCard
            campaignId={campaignId}
            onCampaign={chooseCampaign}
            sweeps={sweeps.data ?? []}
            sweepId={sweepId}
            onSweep={setChosenSweep}
          />
          <PlanCard
            draft={draft}
            onDraft={setDraft}
            reading={reading}
            check={planCheck}
            blockers={blockers}
            busy={busy}
            onStart={startNew}
          />
        </aside>
      ) : null}
      <div className="bench-main">
        <ProgressStrip
          setUpOpen={setUpOpen}
          onSetUp={setSetUpOpen}
          sweep={sweep}
          progress={progress}
          busy={busy}
          blockers={blockers}
          retakes={retakesHere}
          onStartNew={startNew}
          onResume={goOn}
          onPause={(id) => void pause.run(id)}
          onStop={(id) => void stop.run(id)}
        />
        <TracePane recipe={recipe} captureId={captureId} onLive={backToLive} />
        <div className="bench-lower">
          {wide ? matrix : null}
          <BenchTabs
            tab={wide && tab === 'matrix' ? 'log' : tab}
            onTab={setTab}
            matrix={wide ? null : matrix}
            cell={cell === null ? '' : `${cell.from} → ${cell.to}`}
            captures={captures}
            retakes={retakes}
            obstacle={retakeObstacle(rigReady, running)}
            busy={busy}
            onRetakes={runRetakes}
          />
        </div>
      </div>
      <FlashWarning
        isOpen={warning !== null}
        plan={warning?.plan ?? null}
        estimatedS={planCheck?.estimatedS ?? null}
        busy={acknowledge.busy}
        onClose={() => setWarning(null)}
        onAcknowledge={() => {
          const next = warning
          void (async () => {
            const done = await acknowledge.run()
            setWarning(null)
            if (done !== null) next?.run()
          })()
        }}
      />
    </div>
  )
}

function retakeObstacle(rigReady: boolean, running: boolean): string {
  if (!rigReady) return 'Connect a rig to run retakes.'
  return running ? 'Retakes can run when the sweep has ended.' : ''
}
