import { useEffect, useState } from 'react'
import { useHostState } from '../../client/host.tsx'
import { useRecipes } from '../../client/queries.ts'
import { useStable } from '../../ui/use-stable.ts'
import { FlashWarning } from '../../parts/flash-warning.tsx'
import type { MatrixMeasure } from '../../ui/measures-shown.ts'
import { useShortcut } from '../../ui/shortcuts.ts'
import { useKept } from '../../ui/use-kept.ts'
import { canStart, SWEEP_STATE_WORDS } from '../../ui/words.ts'
import { PlanScreen } from './plan-screen.tsx'
import { useRetakes } from './retake-list.tsx'
import { SetUp } from './set-up.tsx'
import { StatusStrip } from './status-strip.tsx'
import { SweepBar } from './sweep-bar.tsx'
import { NOTHING, SweepInView } from './sweep-in-view.tsx'
import { usePlan } from './use-plan.ts'
import { useSweepCommands } from './use-sweep-commands.ts'
import { useView } from './use-view.ts'
import './bench.css'
import './sweep-bar.css'
import './headline.css'
import './trace.css'
import './matrix-pane.css'
import './captures.css'
import './cell-budget.css'
import './plan.css'
import './worst-list.css'

export function BenchScreen() {
  const recipeHash = useHostState((state) => state.recipeHash)
  const simulated = useHostState(({ rig }) => rig.target === null || rig.target.kind === 'simulated')
  const recipes = useRecipes()
  const recipe = recipes.data?.find(({ hash }) => hash === recipeHash)?.recipe ?? null
  const view = useView()
  const { sweep, progress, running, chooseSweep, sweepOf } = view
  const [wantsPlan, setWantsPlan] = useKept('bench-plan', false)
  const [measure, setMeasure] = useKept<MatrixMeasure>('bench-measure', 'transition_duration_s')
  const [selection, setSelection] = useKept('bench-selection', NOTHING)
  const [setUpOpen, setSetUpOpen] = useState(false)
  const plan = usePlan(simulated)
  const commands = useSweepCommands(
    (created) => chooseSweep(created.id),
    () => {
      setWantsPlan(false)
      setSetUpOpen(false)
      setSelection(NOTHING)
    },
  )
  const planning = !running && view.known && (wantsPlan || sweep === null)
  const retakes = useRetakes()
  const runRetakes = useStable((id: number) => {
    chooseSweep(id)
    const next = sweepOf(id)
    if (next !== null) commands.resume(next)
  })

  const state = progress?.state ?? sweep?.state ?? null
  useShortcut(
    'run',
    () => {
      if (sweep === null || state === null || commands.busy) return
      if (running) commands.pause(sweep.id)
      else if (canStart(state) && state !== 'stopped' && commands.obstacle === '') commands.resume(sweep)
      else setWantsPlan(true)
    },
    !planning,
  )
  useShortcut('stop', () => commands.stop(sweep?.id ?? 0), sweep !== null && (running || state === 'paused'))
  useShortcut('setup', () => setSetUpOpen((open) => !open))
  useShortcut('plan', () => setWantsPlan(!planning), sweep !== null && !running)
  useTitle(
    progress === null || progress.total === 0
      ? ''
      : `${Math.floor((100 * progress.done) / progress.total)} % ${SWEEP_STATE_WORDS[progress.state]} – `,
  )

  return (
    <div className="bench">
      <StatusStrip
        open={setUpOpen}
        onToggle={() => setSetUpOpen(!setUpOpen)}
        recipe={recipe}
        recipeHash={recipeHash}
        sweep={sweep}
      />
      {setUpOpen ? <SetUp onClose={() => setSetUpOpen(false)} /> : null}
      <SweepBar
        view={view}
        commands={commands}
        planning={planning}
        onPlan={setWantsPlan}
        retakes={retakes.filter((entry) => entry.sweepId === sweep?.id && entry.obstacle === '').length}
      />
      {planning || sweep === null ? (
        view.known ? (
          <PlanScreen view={view} plan={plan} commands={commands} simulated={simulated} />
        ) : (
          <p className="waiting">Reading the archive…</p>
        )
      ) : (
        <SweepInView
          sweep={sweep}
          running={running}
          current={progress?.current ?? null}
          recipe={recipe}
          recipeHash={recipeHash}
          measure={measure}
          onMeasure={setMeasure}
          selection={selection}
          onSelect={setSelection}
          retakes={retakes}
          retakeObstacle={running ? 'Retakes can run when the sweep has ended.' : commands.obstacle}
          busy={commands.busy}
          onRetake={runRetakes}
        />
      )}
      <FlashWarning flash={commands.flash} estimatedS={plan.check?.estimatedS ?? null} />
    </div>
  )
}

/** Seen in the task bar while another window is in front; a share, since every change of a title is dear. */
function useTitle(summary: string): void {
  useEffect(() => {
    document.title = `${summary}Slewlight`
    return () => {
      document.title = 'Slewlight'
    }
  }, [summary])
}
