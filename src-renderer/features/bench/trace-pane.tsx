import { memo, useCallback, useEffect, useMemo, useRef, useState } from 'react'
import { flushSync } from 'react-dom'
import type { Recipe } from '#shared/domain/recipe.ts'
import type { Result } from '#shared/domain/result.ts'
import type { LiveView } from '#shared/domain/views.ts'
import { beforeFrame } from '../../client/before-frame.ts'
import { describeError } from '../../client/errors.ts'
import { useClient, useHostState } from '../../client/host.tsx'
import { startLivePuller } from '../../client/live-puller.ts'
import { useCapture, useHostQuery } from '../../client/queries.ts'
import { useExports } from '../../client/use-exports.ts'
import { TracePlot, type TracePlotHandle, type TraceView } from '../../plot/trace-plot.tsx'
import { traceScene, type TraceScene, type TraceSource } from '../../plot/trace-scene.ts'
import { Action, Segmented } from '../../ui/controls.tsx'
import { hertz, pair, printMeasure } from '../../ui/format.ts'
import { useShortcut } from '../../ui/shortcuts.ts'
import { isActive, VERDICT_WORDS } from '../../ui/words.ts'
import { NumbersRow } from './numbers-row.tsx'

/** Columns asked for; enough to look closely at the edge of a long record, and a bounded answer. */
const COLUMNS = 8192
/** How often the host is asked whether something new was recorded, ms: while it aims, sweeps, rests. */
const ASK_MS = { monitor: 0, sweep: 50, rest: 500 } as const

export interface TracePaneProps {
  readonly recipe: Recipe | null
  /** A stored capture to show instead of the live trace. */
  readonly captureId: number | null
  readonly onLive: () => void
}

export const TracePane = memo(function TracePane({ recipe, captureId, onLive }: TracePaneProps) {
  const plot = useRef<TracePlotHandle>(null)
  const [view, setView] = useState<TraceView>('edge')
  const live = useLive(captureId === null)
  const stored = useStoredTrace(captureId)
  const shown = captureId === null ? live.frame : stored.trace
  const result = captureId === null ? (live.frame?.result ?? null) : stored.result
  const from = captureId === null ? (live.frame?.from ?? null) : (stored.trace?.info.from ?? null)
  const to = captureId === null ? (live.frame?.to ?? null) : (stored.trace?.info.to ?? null)

  const scene = useMemo((): TraceScene | null => {
    if (shown === null) return null
    const source: TraceSource = {
      envelope: 'info' in shown ? (shown.conditioned ?? shown.raw) : shown.envelope,
      landmarks: result?.landmarks ?? null,
      refreshHz: shown.refreshHz,
      rangeV: shown.rangeV,
      triggerS: 'info' in shown ? shown.info.triggerIndex / shown.info.sampleRateHz : (shown.triggerS ?? null),
      from,
      to,
      referencePercent: recipe?.duration.kind === 'percent' ? recipe.duration.percent : null,
      overshootPct: result?.values.overshoot_pct ?? null,
      undershootPct: result?.values.undershoot_pct ?? null,
    }
    return traceScene(source)
  }, [shown, result, from, to, recipe])

  useEffect(() => plot.current?.show(scene), [scene])

  const switchView = useCallback(() => setView((now) => (now === 'record' ? 'edge' : 'record')), [])
  useShortcut('view', switchView)
  useShortcut('live', onLive, captureId !== null)

  const exports = useExports()
  const monitoring = useHostState((state) => state.monitoring)
  const title = from !== null && to !== null ? pair(from, to) : ''
  const problem = captureId === null ? live.problem : stored.problem
  return (
    <section className="trace-pane" aria-label="Trace">
      <header className="pane-head">
        <h2>{captureId !== null ? `Capture ${captureId}` : monitoring ? 'Monitor' : 'Live trace'}</h2>
        <span className="pane-pair">{shown === null ? '' : title}</span>
        {captureId !== null && stored.trace !== null ? (
          <span className="minor">
            repeat {stored.trace.info.repeat}, attempt {stored.trace.info.attempt},{' '}
            {VERDICT_WORDS[stored.trace.info.verdict]}
          </span>
        ) : null}
        <span className="pane-space" />
        {captureId === null || shown === null ? null : (
          <Action size="small" isPending={exports.busy} onPress={() => exports.saveTrace(captureId)}>
            Save trace
          </Action>
        )}
        {captureId === null ? null : (
          <Action size="small" onPress={onLive}>
            Back to live
          </Action>
        )}
        <ViewChoice view={view} onView={setView} />
      </header>
      <div className="trace-area">
        <TracePlot ref={plot} view={view} onView={setView} description={describeTrace(scene, result, title)} />
        {shown === null ? <TraceEmpty captureId={captureId} problem={problem} /> : null}
      </div>
      <TraceLegend origin={scene?.origin ?? null} refreshHz={shown?.refreshHz ?? 0} />
      <NumbersRow
        result={result}
        refreshHz={shown?.refreshHz ?? 0}
        absent={shown === null ? 'Nothing recorded yet.' : 'Not measured while aiming.'}
      />
    </section>
  )
})

const VIEWS = [
  { id: 'edge', label: 'Edge' },
  { id: 'record', label: 'Whole record' },
] as const

const ViewChoice = memo(function ViewChoice(props: { view: TraceView; onView: (view: TraceView) => void }) {
  return (
    <Segmented
      label="Part of the record in view"
      value={typeof props.view === 'string' ? props.view : null}
      onChange={props.onView}
      choices={VIEWS}
    />
  )
})

function TraceEmpty({ captureId, problem }: { captureId: number | null; problem: string }) {
  const rig = useHostState((state) => state.rig.status)
  const ladder = useHostState(({ sweep }) => sweep?.state === 'ladder')
  if (problem !== '') return <p className="trace-empty">{problem}</p>
  if (captureId !== null) return <p className="trace-empty">Reading the trace…</p>
  if (rig === 'lost') return <p className="trace-empty">No trace. The rig does not answer.</p>
  if (rig === 'absent') return <p className="trace-empty">No trace. Connect a rig in the set-up.</p>
  if (ladder) return <p className="trace-empty">The ladder is measured first; the transitions follow.</p>
  return <p className="trace-empty">No trace yet. Switch the monitor on to aim the sensor, or start a sweep.</p>
}

const TraceLegend = memo(function TraceLegend(props: { origin: TraceScene['origin'] | null; refreshHz: number }) {
  const { origin, refreshHz } = props
  const axis = origin === null ? 'Time, ms' : `Time from ${origin}, ms`
  return (
    <p className="trace-legend">
      <span>Signal, V</span>
      <span className="key key-window">one refresh{refreshHz > 0 ? ` at ${hertz(refreshHz)} Hz` : ''}</span>
      <span className="key key-start">start band</span>
      <span className="key key-end">end band</span>
      <span className="trace-axis">{axis}</span>
    </p>
  )
})

function describeTrace(scene: TraceScene | null, result: Result | null, title: string): string {
  if (scene === null) return 'Trace: nothing to show'
  const value = result?.values.transition_duration_s ?? null
  const duration =
    value === null ? 'duration undefined' : `duration ${printMeasure('transition_duration_s', value).text} ms`
  return `Trace${title === '' ? '' : ` of ${title}`}: volts over ms from ${scene.origin}, ${result === null ? 'not measured' : duration}`
}

/** Newest recording, pulled once a frame while aiming; the recordings of a sweep follow each other more slowly. */
function useLive(active: boolean): { frame: LiveView | null; problem: string } {
  const client = useClient()
  const pace = useHostState(({ monitoring, sweep }) =>
    monitoring ? 'monitor' : sweep !== null && isActive(sweep.state) ? 'sweep' : 'rest',
  )
  const [frame, setFrame] = useState<LiveView | null>(null)
  const [problem, setProblem] = useState('')
  const askMs = useRef<number>(ASK_MS.rest)
  useEffect(() => {
    askMs.current = ASK_MS[pace]
  }, [pace])
  useEffect(() => {
    if (client === null || !active) return undefined
    return startLivePuller<LiveView>({
      request: (since) => client.rig.live({ since, columns: COLUMNS }),
      // Drawn together with what else came before this frame.
      onFrame: (next) =>
        beforeFrame(() =>
          flushSync(() => {
            setProblem('')
            setFrame(next)
          }),
        ),
      onError: (error) => setProblem(describeError(error).message),
      idleMs: () => askMs.current,
      nextFrame: (run) => requestAnimationFrame(run),
      cancelFrame: (handle) => cancelAnimationFrame(handle),
    })
  }, [client, active])
  return { frame, problem }
}

function useStoredTrace(captureId: number | null) {
  const recipeHash = useHostState((state) => state.recipeHash)
  const capture = useCapture(captureId, recipeHash)
  const trace = useHostQuery(
    ['capture', captureId, recipeHash, 'trace'],
    (client, signal) => client.captures.trace({ captureId: captureId ?? 0, recipeHash, columns: COLUMNS }, { signal }),
    { enabled: captureId !== null },
  )
  const error = capture.error ?? trace.error
  return {
    trace: trace.data ?? null,
    result: capture.data?.result ?? null,
    problem: error === null ? '' : describeError(error).message,
  }
}
