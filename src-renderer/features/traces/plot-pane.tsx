import { memo, useCallback, useImperativeHandle, useMemo, useRef, useState, type Ref } from 'react'
import type { Result } from '#shared/domain/result.ts'
import { blurConstruction } from '../../plot/blur-construction.ts'
import { LEAST_MS, spansOf } from '../../plot/desk-chart.ts'
import { DeskPlot, type DeskPlotHandle, type DragMode, type PlotHandle } from '../../plot/desk-plot.tsx'
import { deskScene, type DeskScene } from '../../plot/desk-scene.ts'
import { zoomAbout, type Span } from '../../plot/view-moves.ts'
import { TraceCaption } from '../../parts/trace-caption.tsx'
import { fixed, milliseconds, pair, printMeasure } from '../../ui/format.ts'
import { useHeld } from '../../ui/held.ts'
import { useShortcut } from '../../ui/shortcuts.ts'
import { useSettled } from '../../ui/use-settled.ts'
import { useStable } from '../../ui/use-stable.ts'
import { cursorDifference, readAt } from './cursor-reading.ts'
import { CursorRow, cursorWords } from './cursor-row.tsx'
import { useLayers, type LayerId } from './layers.ts'
import { MARK_GROUPS, MARK_IDS, markTimes } from './marks.ts'
import { PlotKey } from './plot-key.tsx'
import { PlotToolbar, type PlotPart } from './plot-toolbar.tsx'
import { ResidualStrip } from './residual-strip.tsx'
import { SpectrumStrip } from './spectrum-strip.tsx'
import { useInSeconds, type DeskPlotState } from './use-desk-plot.ts'
import type { Marks } from './use-marks.ts'
import { useDetail, useOverlay, type ShownCapture } from './use-shown-capture.ts'

/** Rest after a move before detail is asked for, ms. */
const REST_MS = 90
/** Beyond what is in view, so that a short move shows no coarser columns. */
const MARGIN = 0.3

const MARKS = MARK_GROUPS.flatMap(({ key, marks }) => marks.map((mark) => ({ ...mark, key })))
const MARK_ROWS = { beforeWindow: 0, afterWindow: 0, crossLowS: 1, crossHighS: 1, span: 2 } as const

export interface PlotPaneHandle {
  focus(): void
}

export interface PlotPaneProps {
  readonly ref: Ref<PlotPaneHandle>
  readonly shown: ShownCapture
  readonly recipeHash: string
  readonly recipeName: string
  readonly plot: DeskPlotState
  readonly marks: Marks
  /** Another capture to lay over it; null for none. */
  readonly pinned: ShownCapture | null
  /** Samples a flag points at, s from the first sample. */
  readonly shaded: { readonly span: Span; readonly label: string } | null
}

export const PlotPane = memo(function PlotPane(props: PlotPaneProps) {
  const { ref, shown, recipeHash, plot, marks, pinned, shaded } = props
  const { detail, trace, sweep } = shown
  const { base, originS, recordS } = plot
  const view = useHeld(plot.view)
  const setView = plot.view.set
  const [layers, toggle] = useLayers()
  const [drag, setDrag] = useState<DragMode>('pan')
  const [columns, setColumns] = useState(0)
  const [cursorsMs, setCursorsMs] = useState<Span | null>(null)
  const handle = useRef<DeskPlotHandle>(null)
  useImperativeHandle(ref, () => ({ focus: () => handle.current?.focus() }), [])

  const shownX = base === null ? null : spansOf(base, view).x
  const inViewS = useInSeconds(shownX, originS)
  const result: Result | null = marks.preview ?? detail.result
  const captureId = detail.info.id
  // Of this capture only: the span of the one before is not asked for again.
  const looked = useSettled(
    useMemo(() => ({ captureId, span: closerSpan(inViewS, recordS) }), [captureId, inViewS, recordS]),
    REST_MS,
  )
  const closer = looked.captureId === captureId ? looked.span : null
  const close = useDetail(captureId, recipeHash, closer, Math.round(columns * (1 + 2 * MARGIN)))
  const wantsOverlay = (layers.repeats || layers.residual) && looked.captureId === captureId
  const { overlay, problem: overlayProblem } = useOverlay(captureId, recipeHash, closer, wantsOverlay)
  const blur = useMemo(
    () =>
      layers.blur && result !== null && result.values.blur_edge_s !== null
        ? blurConstruction(trace.raw, result.landmarks, trace.refreshHz)
        : null,
    [layers.blur, result, trace],
  )
  const scene = useMemo((): DeskScene | null => {
    if (base === null) return null
    const width = result?.values.blur_edge_s ?? null
    return deskScene({
      base,
      whole: trace,
      detail: close,
      landmarks: result?.landmarks ?? null,
      overlay: layers.repeats ? overlay : null,
      other: pinned === null ? null : { trace: pinned.trace, landmarks: pinned.detail.result?.landmarks ?? null },
      blur,
      blurLabel: width === null ? '' : `blur edge ${printMeasure('blur_edge_s', width).text} ms`,
      showRaw: layers.raw,
      showFrames: layers.frames,
      showWindows: layers.windows || marks.moving,
      showCursors: layers.cursors,
      shaded,
    })
  }, [base, trace, close, result, overlay, pinned, blur, layers, marks.moving, shaded])

  const [cursorA, cursorB] = cursorsMs ?? firstCursors(result, originS, shownX)
  const readings = useMemo(
    () => (scene === null ? null : ([readAt(scene.curve, cursorA), readAt(scene.curve, cursorB)] as const)),
    [scene, cursorA, cursorB],
  )

  const handles = useMemo((): PlotHandle[] => {
    const list: PlotHandle[] = []
    if (marks.moving) {
      const times = markTimes(marks.draft, result?.landmarks ?? null, recordS)
      for (const { id, label, short, key } of MARKS) {
        const at = times[id]
        if (at === null) continue
        const ms = (at - originS) * 1000
        list.push({
          id,
          mark: short,
          label,
          ms,
          text: `${milliseconds(ms / 1000)} ms`,
          tone: 'mark',
          row: MARK_ROWS[key],
        })
      }
    }
    if (layers.cursors && readings !== null) {
      const tones = { A: 'a', B: 'b' } as const
      for (const [k, id] of (['A', 'B'] as const).entries()) {
        const reading = readings[k as 0 | 1]
        const text = cursorWords(reading)
        list.push({ id, mark: id, label: `Cursor ${id}`, ms: reading.ms, text, tone: tones[id], row: 'above' })
      }
    }
    return list
  }, [marks.moving, marks.draft, result, recordS, originS, layers.cursors, readings])
  const move = useStable((id: string, ms: number) => {
    if (id === 'A') setCursorsMs([ms, cursorB])
    else if (id === 'B') setCursorsMs([cursorA, ms])
    else {
      const mark = MARK_IDS.find((known) => known === id)
      if (mark !== undefined) marks.move(mark, originS + ms / 1000)
    }
  })

  const zoom = useStable((factor: number) => {
    if (base === null || shownX === null) return
    setView({ ...view, x: zoomAbout(shownX, factor, (shownX[0] + shownX[1]) / 2, base.recordMs, LEAST_MS) })
  })
  const showPart = useStable((x: PlotPart) => setView({ x, y: null }))
  useShortcut(
    'span',
    useCallback(() => setView({ x: view.x === 'record' ? 'edge' : 'record', y: null }), [view.x, setView]),
  )
  useLayerKey('cursors', toggle)
  useLayerKey('repeats', toggle)
  useLayerKey('residual', toggle)
  useLayerKey('blur', toggle)
  useLayerKey('spectrum', toggle)

  const spectrumSpan = useMemo((): Span | null => {
    const between: Span = [originS + Math.min(cursorA, cursorB) / 1000, originS + Math.max(cursorA, cursorB) / 1000]
    return clip(layers.cursors ? between : inViewS, recordS)
  }, [layers.cursors, cursorA, cursorB, originS, inViewS, recordS])
  return (
    <section className="pane plot-pane" aria-label="Plot">
      <PlotToolbar
        layers={layers}
        onLayer={toggle}
        conditioned={trace.conditioned !== null}
        part={typeof view.x === 'string' && view.y === null ? view.x : null}
        onPart={showPart}
        onZoom={zoom}
        drag={drag}
        onDrag={setDrag}
      />
      <TraceCaption info={detail.info} sweep={sweep} recipe={props.recipeName} />
      <div className="plot-area">
        <DeskPlot
          ref={handle}
          scene={scene}
          view={view}
          drag={drag}
          handles={handles}
          sampleMs={1000 / detail.info.sampleRateHz}
          description={describe(shown, result, shownX)}
          onView={setView}
          onMove={move}
          onColumns={setColumns}
        />
      </div>
      <PlotKey
        scene={scene}
        inViewMs={shownX}
        overlay={layers.repeats ? overlay : null}
        other={pinned?.detail.info ?? null}
        refreshHz={trace.refreshHz}
      />
      {layers.cursors && readings !== null ? (
        <CursorRow
          a={readings[0]}
          b={readings[1]}
          difference={cursorDifference(readings[0], readings[1], result?.landmarks ?? null, sweep?.ladder ?? null)}
        />
      ) : null}
      {layers.residual || layers.spectrum ? (
        <div className="plot-strips">
          {layers.residual ? (
            <ResidualStrip overlay={overlay} problem={overlayProblem} originS={originS} span={shownX} />
          ) : null}
          {layers.spectrum && spectrumSpan !== null ? (
            <SpectrumStrip
              captureId={captureId}
              span={spectrumSpan}
              between={layers.cursors ? 'the cursors' : null}
              recordS={recordS}
            />
          ) : null}
        </div>
      ) : null}
    </section>
  )
})

function useLayerKey(
  id: LayerId & ('cursors' | 'repeats' | 'residual' | 'blur' | 'spectrum'),
  toggle: (id: LayerId) => void,
) {
  useShortcut(
    id,
    useCallback(() => toggle(id), [id, toggle]),
  )
}

function clip(span: Span | null, recordS: number): Span | null {
  if (span === null) return null
  const from = Math.max(0, span[0])
  const to = Math.min(recordS, span[1])
  return to > from ? [from, to] : null
}

/** Span to ask in detail: what is in view with a margin; null when that is most of the record. */
function closerSpan(inView: Span | null, recordS: number): Span | null {
  if (inView === null) return null
  const margin = MARGIN * (inView[1] - inView[0])
  const span = clip([inView[0] - margin, inView[1] + margin], recordS)
  return span === null || span[1] - span[0] > 0.9 * recordS ? null : span
}

/** Where the cursors stand at first: at the reference crossings, else at thirds of what is in view. */
function firstCursors(result: Result | null, originS: number, inView: Span | null): Span {
  const low = result?.landmarks.crossLowS ?? null
  const high = result?.landmarks.crossHighS ?? null
  if (low !== null && high !== null) return [(low - originS) * 1000, (high - originS) * 1000]
  if (inView === null) return [0, 1]
  const third = (inView[1] - inView[0]) / 3
  return [inView[0] + third, inView[1] - third]
}

function describe({ detail, trace }: ShownCapture, result: Result | null, inView: Span | null): string {
  const { info } = detail
  const duration = result?.values.transition_duration_s ?? null
  const parts = [
    `Trace of capture ${info.id}, ${pair(info.from, info.to)}`,
    duration === null ? 'duration undefined' : `duration ${milliseconds(duration)} ms`,
    inView === null ? '' : `in view from ${fixed(inView[0], 2)} to ${fixed(inView[1], 2)} ms`,
    trace.refreshHz > 0 ? `frames of ${milliseconds(1 / trace.refreshHz)} ms` : '',
  ]
  return parts.filter((part) => part !== '').join(', ')
}
