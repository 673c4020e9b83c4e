import { memo, useLayoutEffect, useMemo, useRef, useState } from 'react'
import type { Sweep } from '#shared/domain/capture.ts'
import type { Recipe } from '#shared/domain/recipe.ts'
import type { Result } from '#shared/domain/result.ts'
import type { TraceView } from '#shared/domain/views.ts'
import { describeError } from '../../client/errors.ts'
import { useHostQuery } from '../../client/queries.ts'
import { TracePlot, type TracePlotHandle, type TimeView } from '../../plot/trace-plot.tsx'
import { traceScene, type TraceScene, type TraceSource } from '../../plot/trace-scene.ts'
import { EmptyState } from '../../ui/controls.tsx'
import { hertz, pair } from '../../ui/format.ts'
import { OpenDemo } from '../../parts/open-demo.tsx'
import { ExampleChoice, type Example } from './example-choice.tsx'
import { NumbersCompared } from './numbers-compared.tsx'
import { COLUMNS, usePreview, type EditedRecipe } from './use-preview.ts'

export interface ExamplePaneProps {
  readonly sweep: Sweep | null
  readonly example: Example
  readonly edited: EditedRecipe
  readonly inUse: { readonly hash: string; readonly recipe: Recipe }
  readonly recipeName: string
}

/** One stored capture under the edited recipe, beside what the recipe in use says of it. */
export const ExamplePane = memo(function ExamplePane(props: ExamplePaneProps) {
  const { sweep, example, edited, inUse } = props
  const captureId = example.row?.info.id ?? null
  const trace = useHostQuery(
    ['capture', captureId, inUse.hash, 'trace'],
    (client, signal) =>
      client.captures.trace({ captureId: captureId ?? 0, recipeHash: inUse.hash, columns: COLUMNS }, { signal }),
    { enabled: captureId !== null },
  )
  const old = useHostQuery(
    ['capture', captureId, inUse.hash, 'preview'],
    (client, signal) => client.recipes.preview({ captureId: captureId ?? 0, recipe: inUse.recipe }, { signal }),
    { enabled: captureId !== null },
  )
  const { shown, problem } = usePreview(captureId, edited)
  const result = shown?.preview.result ?? null
  const before = old.data?.result ?? null
  const view = trace.data ?? null

  const plot = useRef<TracePlotHandle>(null)
  const pane = useRef<HTMLElement>(null)
  const [chosen, setChosen] = useState<TimeView>('edge')
  // The recipe in use sets axis and section once: only marks and numbers move while a slider does.
  const still = useMemo(
    () => (view === null ? null : traceScene(sourceOf(view, before, inUse.recipe))),
    [view, before, inUse],
  )
  const scene = useMemo((): TraceScene | null => {
    if (view === null || shown === null) return still
    const drawn = shown.preview.conditioned === null ? view : { ...view, raw: shown.preview.conditioned }
    return traceScene({ ...sourceOf(drawn, shown.preview.result, shown.recipe), pinned: still })
  }, [view, shown, still])

  // Drawn with the numbers, not after them.
  useLayoutEffect(() => {
    plot.current?.show(scene)
    // What is drawn, for whoever measures how long it takes.
    if (pane.current !== null) pane.current.dataset['drawn'] = shown?.preview.result.recipeHash ?? ''
  }, [scene, shown])

  if (sweep === null)
    return (
      <EmptyState title="No trace to try it on">
        Run a sweep on the Bench or import recordings to see each change on a trace. <OpenDemo />
      </EmptyState>
    )
  const error = trace.error ?? old.error
  return (
    <section ref={pane} className="example-pane" aria-label="Example">
      <ExampleChoice example={example} view={chosen} onView={setChosen} />
      <div className="trace-area">
        <TracePlot ref={plot} view={chosen} onView={setChosen} description={describe(view, result)} />
        {captureId === null ? (
          <p className="trace-empty">
            {example.isReading
              ? 'Looking for a capture…'
              : example.order === 'doubtful'
                ? 'No capture of this sweep is doubtful. Choose “Typical” or “All”.'
                : 'This sweep has no captures yet.'}
          </p>
        ) : view === null ? (
          <p className="trace-empty">{error === null ? 'Reading the trace…' : describeError(error).message}</p>
        ) : null}
      </div>
      <p className="trace-legend">
        <span>Signal, V</span>
        <span className="key key-window">one refresh{view === null ? '' : ` at ${hertz(view.refreshHz)} Hz`}</span>
        <span className="key key-start">start band</span>
        <span className="key key-end">end band</span>
        <span className="trace-axis">Time from {still?.origin ?? 'onset'}, ms</span>
      </p>
      {problem === '' ? null : (
        <p role="alert" className="problem">
          {problem}
        </p>
      )}
      <NumbersCompared old={before} edited={result} oldName={inUse.recipe.name} editedName={props.recipeName} />
    </section>
  )
})

function sourceOf(view: TraceView, result: Result | null, recipe: Recipe): TraceSource {
  return {
    envelope: view.raw,
    landmarks: result?.landmarks ?? null,
    refreshHz: view.refreshHz,
    rangeV: view.rangeV,
    triggerS: view.info.triggerIndex / view.info.sampleRateHz,
    from: view.info.from,
    to: view.info.to,
    referencePercent: recipe.duration.kind === 'percent' ? recipe.duration.percent : null,
    overshootPct: result?.values.overshoot_pct ?? null,
    undershootPct: result?.values.undershoot_pct ?? null,
  }
}

function describe(view: TraceView | null, result: Result | null): string {
  if (view === null) return 'Trace: nothing to show'
  const { from, to, id } = view.info
  const known =
    result === null ? 'not measured yet' : 'with the marks of the edited recipe; its numbers are in the table'
  return `Trace of capture ${id}, ${pair(from, to)}: volts over ms, ${known}`
}
