import { useEffect, useState } from 'react'
import { describeError } from '../../client/errors.ts'
import { useHostState } from '../../client/host.tsx'
import { useMatrix, useRecipes } from '../../client/queries.ts'
import { FlashWarning } from '../../parts/flash-warning.tsx'
import { MATRIX_MEASURES, type MatrixMeasure } from '../../ui/measures-shown.ts'
import { useShortcut } from '../../ui/shortcuts.ts'
import { useKept } from '../../ui/use-kept.ts'
import { canStart, SWEEP_STATE_WORDS } from '../../ui/words.ts'
import { ChosenPane, typicalCapture } from './chosen-pane.tsx'
import { Headline } from './headline.tsx'
import type { CellKey } from './matrix-grid.tsx'
import { MatrixPane } from './matrix-pane.tsx'
import { PlanScreen } from './plan-screen.tsx'
import { useRetakes } from './retake-list.tsx'
import { SetUp } from './set-up.tsx'
import { StatusStrip } from './status-strip.tsx'
import { SweepBar } from './sweep-bar.tsx'
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

interface Selection {
  readonly sweepId: number | null
  readonly cell: CellKey | null
  /** Null shows the capture nearest to the cell's mean. */
  readonly captureId: number | null
}
const NOTHING: Selection = { sweepId: null, cell: null, captureId: null }

export function BenchScreen() {
  const recipeHash = useHostState((state) => state.recipeHash)
  const simulated = useHostState(({ rig }) => rig.target === null || rig.target.kind === 'simulated')
  const recipes = useRecipes()
  const recipe = recipes.data?.find(({ hash }) => hash === recipeHash)?.recipe ?? null
  const view = useView()
  const { sweep, progress, running } = view
  const [wantsPlan, setWantsPlan] = useKept('bench-plan', false)
  const [measure, setMeasure] = useKept<MatrixMeasure>('bench-measure', 'transition_duration_s')
  const [selection, setSelection] = useKept('bench-selection', NOTHING)
  const [setUpOpen, setSetUpOpen] = useState(false)
  const [tab, setTab] = useState('log')
  const plan = usePlan(simulated)
  const commands = useSweepCommands(
    (created) => view.chooseSweep(created.id),
    () => {
      setWantsPlan(false)
      setSetUpOpen(false)
      setSelection(NOTHING)
    },
  )
  const planning = !running && view.known && (wantsPlan || sweep === null)
  const matrix = useMatrix(sweep?.id ?? null, recipeHash, MATRIX_MEASURES)
  const data = matrix.data ?? null
  const retakes = useRetakes()

  // What was chosen in another sweep means nothing in this one.
  const chosen = selection.sweepId === (sweep?.id ?? null) ? selection : NOTHING
  const captureId = chosen.cell === null ? null : (chosen.captureId ?? typicalCapture(data, chosen.cell, measure))
  const openCell = (cell: CellKey) => setSelection({ sweepId: sweep?.id ?? null, cell, captureId: null })

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
        <>
          <Headline
            sweep={sweep}
            running={running}
            data={data}
            recipe={recipe}
            onOpen={(cell, of) => {
              setMeasure(of)
              openCell(cell)
            }}
          />
          <div className="bench-lower">
            <MatrixPane
              sweep={sweep}
              data={data}
              problem={matrix.error === null ? '' : describeError(matrix.error).message}
              recipe={recipe}
              recipeHash={recipeHash}
              measure={measure}
              onMeasure={setMeasure}
              selected={chosen.cell}
              current={progress?.current ?? null}
              onOpen={openCell}
            />
            <ChosenPane
              sweep={sweep}
              running={running}
              data={data}
              recipe={recipe}
              recipeHash={recipeHash}
              measure={measure}
              cell={chosen.cell}
              captureId={captureId}
              onCapture={(id) => setSelection({ ...chosen, captureId: id })}
              onBack={() => setSelection(NOTHING)}
              tab={tab}
              onTab={setTab}
              retakes={{
                retakes,
                obstacle: running ? 'Retakes can run when the sweep has ended.' : commands.obstacle,
                busy: commands.busy,
                onRun: (id) => {
                  view.chooseSweep(id)
                  const next = view.sweepOf(id)
                  if (next !== null) commands.resume(next)
                },
              }}
            />
          </div>
        </>
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
