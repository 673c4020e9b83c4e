import { useCallback, useMemo, useState } from 'react'
import type { Recipe } from '#shared/domain/recipe.ts'
import type { Result } from '#shared/domain/result.ts'
import { WHOLE_EDGE, type DeskView } from '../../plot/desk-chart.ts'
import { Held } from '../../ui/held.ts'
import { traceScene, type TraceScene } from '../../plot/trace-scene.ts'
import { around, type Span } from '../../plot/view-moves.ts'
import type { ShownCapture } from './use-shown-capture.ts'

export interface DeskPlotState {
  readonly base: TraceScene | null
  /** The part of the trace in view. It outlives the plot, and moving it draws only the plot again. */
  readonly view: Held<DeskView>
  /** The record, s. */
  readonly recordS: number
  readonly originS: number
  /** Looks at a span (s from the first sample) in its surroundings; null looks at the whole record. */
  readonly lookAt: (span: Span | null) => void
}

/** Least part of the record that a look at a few samples shows, ms. */
const LEAST_LOOK_MS = 0.5

/** The trace with its marks and the part of it in view. The origin stays while marks are moved by hand. */
export function useDeskPlot(shown: ShownCapture | null, preview: Result | null, recipe: Recipe | null): DeskPlotState {
  const [view] = useState(() => new Held<DeskView>(WHOLE_EDGE))
  const stored = shown?.detail.result ?? null
  const settled = useMemo(() => (shown === null ? null : sceneOf(shown, stored, recipe, null)), [shown, stored, recipe])
  const base = useMemo(
    () => (shown === null || settled === null || preview === null ? settled : sceneOf(shown, preview, recipe, settled)),
    [shown, settled, preview, recipe],
  )
  const originS = base?.originS ?? 0
  const info = shown?.detail.info
  const lookAt = useCallback(
    (span: Span | null) => {
      if (base === null) return
      if (span === null) view.set({ x: 'record', y: null })
      else {
        const ms: Span = [(span[0] - originS) * 1000, (span[1] - originS) * 1000]
        view.set({ x: around(ms, base.recordMs, LEAST_LOOK_MS), y: null })
      }
    },
    [base, originS, view],
  )
  const recordS = info === undefined ? 0 : info.sampleCount / info.sampleRateHz
  return useMemo(() => ({ base, view, recordS, originS, lookAt }), [base, view, recordS, originS, lookAt])
}

/** A span of the plot, ms from its origin, in s from the first sample; the same one while its ends are the same. */
export function useInSeconds(spanMs: Span | null, originS: number): Span | null {
  const none = spanMs === null
  const [first, last] = spanMs ?? [0, 0]
  return useMemo(() => (none ? null : [originS + first / 1000, originS + last / 1000]), [none, originS, first, last])
}

function sceneOf(
  { detail, trace }: ShownCapture,
  result: Result | null,
  recipe: Recipe | null,
  pinned: TraceScene | null,
): TraceScene {
  const { info } = detail
  return traceScene({
    envelope: trace.conditioned ?? trace.raw,
    landmarks: result?.landmarks ?? null,
    refreshHz: trace.refreshHz,
    rangeV: trace.rangeV,
    triggerS: info.triggerIndex / info.sampleRateHz,
    from: info.from,
    to: info.to,
    referencePercent: recipe?.duration.kind === 'percent' ? recipe.duration.percent : null,
    overshootPct: result?.values.overshoot_pct ?? null,
    undershootPct: result?.values.undershoot_pct ?? null,
    pinned,
  })
}
