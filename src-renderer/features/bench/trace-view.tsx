/** A trace with its marks and numbers; where it comes from is the caller's. */
import { useEffect, useRef, useState, type ReactNode } from 'react'
import type { Recipe } from '#shared/domain/recipe.ts'
import type { Result } from '#shared/domain/result.ts'
import { TracePlot, type TracePlotHandle, type TimeView } from '../../plot/trace-plot.tsx'
import { traceScene, type TraceScene, type TraceSource } from '../../plot/trace-scene.ts'
import { Segmented } from '../../ui/controls.tsx'
import { hertz, printMeasure } from '../../ui/format.ts'
import { windowOf } from '../../ui/measure-scale.ts'
import { useShortcut } from '../../ui/shortcuts.ts'
import { NumbersRow } from './numbers-row.tsx'

/** Columns asked for; enough to look closely at the edge of a long record, and a bounded answer. */
export const TRACE_COLUMNS = 8192

export type Shown = Pick<TraceSource, 'envelope' | 'refreshHz' | 'rangeV' | 'triggerS' | 'from' | 'to'>

const VIEWS = [
  { id: 'edge', label: 'Edge' },
  { id: 'record', label: 'Whole record' },
] as const

export interface TraceViewProps {
  /** What stands left of the choice of a view. */
  readonly head: ReactNode
  /** What the trace is of, for readers of screens. */
  readonly name: string
  readonly shown: Shown | null
  readonly result: Result | null
  readonly recipe: Recipe | null
  /** What stands in the place of a trace. */
  readonly empty: string
  /** Why there are no numbers; null where none are expected. */
  readonly absent: string | null
}

export function TraceView({ head, name, shown, result, recipe, empty, absent }: TraceViewProps) {
  const plot = useRef<TracePlotHandle>(null)
  const [view, setView] = useState<TimeView>('edge')
  const scene =
    shown === null
      ? null
      : traceScene({
          ...shown,
          landmarks: result?.landmarks ?? null,
          referencePercent: recipe?.duration.kind === 'percent' ? recipe.duration.percent : null,
          overshootPct: result?.values.overshoot_pct ?? null,
          undershootPct: result?.values.undershoot_pct ?? null,
        })
  // The curve follows a frame after the numbers: both in one frame are more than one of 60 a second has time for.
  useEffect(() => {
    const frame = requestAnimationFrame(() => plot.current?.show(scene))
    return () => cancelAnimationFrame(frame)
  }, [scene])
  useShortcut('view', () => setView((now) => (now === 'record' ? 'edge' : 'record')))
  const refreshHz = shown?.refreshHz ?? 0
  return (
    <>
      <header className="pane-head">
        {head}
        <Segmented
          label="Part of the record in view"
          value={typeof view === 'string' ? view : null}
          onChange={setView}
          choices={VIEWS}
        />
      </header>
      <div className="trace-area">
        <TracePlot ref={plot} view={view} onView={setView} description={describeTrace(scene, result, name)} />
        {shown === null ? <p className="trace-empty">{empty}</p> : null}
      </div>
      <p className="trace-legend">
        <span>Signal, V; time{scene === null ? '' : ` from ${scene.origin}`}, ms</span>
        {/* Only what is drawn is explained. */}
        {scene === null || scene.window === null ? null : (
          <span className="key key-window">one refresh{refreshHz > 0 ? ` at ${hertz(refreshHz)} Hz` : ''}</span>
        )}
        {scene?.bands.some(({ kind }) => kind === 'start') ? <span className="key key-start">start band</span> : null}
        {scene?.bands.some(({ kind }) => kind === 'end') ? <span className="key key-end">end band</span> : null}
      </p>
      {absent === null ? null : (
        <NumbersRow
          result={result}
          windowS={recipe === null || refreshHz <= 0 ? null : windowOf(refreshHz, recipe.inWindow.tolerancePct)}
          absent={shown === null ? 'Nothing recorded yet.' : absent}
        />
      )}
    </>
  )
}

function describeTrace(scene: TraceScene | null, result: Result | null, name: string): string {
  if (scene === null) return 'Trace: nothing to show'
  const value = result?.values.transition_duration_s ?? null
  const duration =
    value === null ? 'duration undefined' : `duration ${printMeasure('transition_duration_s', value).text} ms`
  return `Trace${name === '' ? '' : ` of ${name}`}: volts over ms from ${scene.origin}, ${result === null ? 'not measured' : duration}`
}
