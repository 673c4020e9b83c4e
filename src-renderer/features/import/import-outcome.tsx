import { useMemo } from 'react'
import type { Sweep } from '#shared/domain/capture.ts'
import type { JobProgress } from '#shared/domain/job.ts'
import { cellStatistics, repeatsExpected } from '#shared/findings/matrix.ts'
import { useHostState } from '../../client/host.tsx'
import { useMatrix, useRecipes } from '../../client/queries.ts'
import { JobBar } from '../../parts/job-progress.tsx'
import type { ImportEnd } from './desk.ts'
import { SweepLinks } from './sweep-links.tsx'
import { Action, StatusDot } from '../../ui/controls.tsx'
import { count, hertz, plural, printMeasure } from '../../ui/format.ts'

/** How far the running import is. */
export function ImportProgress({ job }: { job: JobProgress }) {
  return (
    <section className="pane import-outcome" aria-label="Import in progress">
      <JobBar job={job} cancelLabel="Cancel import" />
    </section>
  )
}

export interface ImportOutcomeProps {
  readonly report: ImportEnd
  /** The sweep as it is now; null while it is not known or when there is none. */
  readonly sweep: Sweep | null
  readonly onHide: (sweepId: number, hidden: boolean) => void
  readonly busy: boolean
  readonly onClose: () => void
}

/** What became of the last import, and what can be done about it. */
export function ImportOutcome(props: ImportOutcomeProps) {
  const { report, sweep } = props
  const { state, sweepId, problems } = report
  const hidden = sweep?.hidden === true
  const leftOut = problems.filter(({ kept }) => !kept).length
  return (
    <section className="pane import-outcome" aria-label="Result of the import">
      <div className="import-outcome-head">
        <StatusDot tone={state === 'finished' ? (leftOut > 0 ? 'warn' : 'good') : state === 'failed' ? 'bad' : 'idle'}>
          {state === 'finished' ? 'Imported' : state === 'failed' ? 'Not imported' : 'Cancelled'}
        </StatusDot>
        <div className="import-outcome-text" role="status">
          <p>{sentenceOf(report, hidden)}</p>
          {state === 'finished' && sweep !== null && !hidden ? <Measured sweep={sweep} /> : null}
        </div>
        <div className="row">
          {sweep === null || hidden ? null : <SweepLinks sweep={sweep} />}
          {sweepId === null || sweep === null ? null : (
            <Action isPending={props.busy} onPress={() => props.onHide(sweepId, !hidden)}>
              {hidden ? 'Restore the sweep' : 'Hide this import'}
            </Action>
          )}
          <Action tone="quiet" onPress={props.onClose}>
            Close
          </Action>
        </div>
      </div>
      {problems.length === 0 ? null : (
        <ul className="import-problems" aria-label="Recordings left out or doubtful">
          {problems.map((problem) => (
            <li key={problem.position}>
              <strong>{problem.name}</strong>
              <span className={problem.kept ? 'warn-text' : 'bad-text'}>
                {problem.kept ? ' kept: ' : ' left out: '}
              </span>
              {withoutName(problem)} <span className="minor">{problem.remedy}</span>
            </li>
          ))}
        </ul>
      )}
    </section>
  )
}

const withoutName = ({ name, problem }: { name: string; problem: string }): string =>
  problem.startsWith(`${name}: `) ? problem.slice(name.length + 2) : problem

function sentenceOf(report: ImportEnd, hidden: boolean): string {
  const { state, captures, good, files, sweepId, failure } = report
  if (state !== 'finished') {
    const stored =
      sweepId === null
        ? 'Nothing was stored.'
        : hidden
          ? `Sweep ${sweepId} with the ${plural(captures, 'recording')} stored before that is hidden; it can be restored.`
          : `Sweep ${sweepId} with the ${plural(captures, 'recording')} stored before that is in the lists.`
    return state === 'cancelled' ? stored : [failure?.message, failure?.remedy, stored].filter(Boolean).join(' ')
  }
  const doubtful = captures - good
  const left = files - captures
  const parts = [`Sweep ${sweepId}: ${count(captures)} of ${plural(files, 'recording')} stored`]
  if (doubtful > 0) parts.push(`${count(doubtful)} not counted in the matrix`)
  if (left > 0) parts.push(`${count(left)} left out`)
  return `${parts.join(', ')}.${hidden ? ' It is hidden: its traces are kept, but no list shows them.' : ''}`
}

const SHOWN = ['transition_duration_s'] as const

/** What the numbers of the sweep are under the recipe of the screens. */
function Measured({ sweep }: { sweep: Sweep }) {
  const recipeHash = useHostState((state) => state.recipeHash)
  const recipes = useRecipes()
  const { data } = useMatrix(sweep.id, recipeHash, SHOWN)
  const cells = useMemo(
    () => (data === undefined ? [] : cellStatistics(data, 'transition_duration_s', repeatsExpected(sweep))),
    [data, sweep],
  )
  const means = cells.flatMap(({ mean }) => (mean === null ? [] : [mean]))
  if (data === undefined || cells.length === 0) return null
  const flagged = cells.reduce((sum, cell) => sum + cell.flagged, 0)
  const name = recipes.data?.find(({ hash }) => hash === recipeHash)?.recipe.name ?? recipeHash
  const measured = cells.filter(({ n }) => n > 0).length
  const mean = means.length === 0 ? null : means.reduce((sum, value) => sum + value, 0) / means.length
  const printed = mean === null ? null : printMeasure('transition_duration_s', mean)
  return (
    <p className="minor">
      {sweep.plan.setting} at {hertz(sweep.plan.refreshHz)} Hz: {plural(measured, 'transition')} measured under “{name}
      ”, mean transition duration {printed === null ? 'undefined' : `${printed.text} ${printed.unit}`},{' '}
      {plural(flagged, 'capture')} flagged.
    </p>
  )
}
