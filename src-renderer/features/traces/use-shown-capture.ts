import { useMemo } from 'react'
import type { CaptureDetail, Overlay } from '#shared/domain/desk.ts'
import type { Sweep } from '#shared/domain/capture.ts'
import type { TraceView } from '#shared/domain/views.ts'
import { describeError } from '../../client/errors.ts'
import { useHostQuery } from '../../client/queries.ts'

/** Columns of the whole record; closer looks ask for what they show. */
const WHOLE_COLUMNS = 8192
const OVERLAY_COLUMNS = 2048

export type SpanS = readonly [number, number]

export interface ShownCapture {
  readonly detail: CaptureDetail
  readonly trace: TraceView
  readonly sweep: Sweep | null
}

/** The asked capture with its whole trace; the last one stays until the next has arrived. */
export function useShownCapture(
  captureId: number | null,
  recipeHash: string,
): { readonly shown: ShownCapture | null; readonly problem: string } {
  const enabled = captureId !== null
  const id = captureId ?? 0
  const answer = useHostQuery(
    ['capture', captureId, recipeHash, 'with trace'],
    async (client, signal) => {
      const [detail, trace] = await Promise.all([
        client.captures.get({ captureId: id, recipeHash }, { signal }),
        client.captures.trace({ captureId: id, recipeHash, columns: WHOLE_COLUMNS }, { signal }),
      ])
      return { detail, trace }
    },
    { enabled, keep: true },
  )
  const sweepId = answer.data?.detail.info.sweepId ?? null
  const sweep = useHostQuery(
    ['sweeps', 'one', sweepId],
    (client, signal) => client.sweeps.get({ sweepId: sweepId ?? 0 }, { signal }),
    { enabled: sweepId !== null },
  )
  const problem = answer.error === null ? '' : describeError(answer.error).message
  const data = enabled && problem === '' ? answer.data : undefined
  const sweepData = sweep.data ?? null
  const shown = useMemo(() => (data === undefined ? null : { ...data, sweep: sweepData }), [data, sweepData])
  return { shown, problem }
}

/** The trace between two instants in as many columns as there are pixels; null until it is here, or for no span. */
export function useDetail(
  captureId: number | null,
  recipeHash: string,
  span: SpanS | null,
  columns: number,
): TraceView | null {
  const answer = useHostQuery(
    ['capture', captureId, recipeHash, 'detail', span, columns],
    (client, signal) =>
      client.captures.trace(
        {
          captureId: captureId ?? 0,
          recipeHash,
          columns: Math.min(8192, Math.max(16, columns)),
          fromS: span?.[0] ?? 0,
          toS: span?.[1] ?? 0,
        },
        { signal },
      ),
    { enabled: captureId !== null && span !== null && columns > 0, keep: true },
  )
  return span !== null && answer.data?.info.id === captureId ? answer.data : null
}

/** Repeats laid over the capture, of the span in view. */
export function useOverlay(
  captureId: number | null,
  recipeHash: string,
  span: SpanS | null,
  wanted: boolean,
): { readonly overlay: Overlay | null; readonly problem: string } {
  const answer = useHostQuery(
    ['capture', captureId, recipeHash, 'overlay', span],
    (client, signal) =>
      client.captures.overlay(
        {
          captureId: captureId ?? 0,
          recipeHash,
          columns: OVERLAY_COLUMNS,
          ...(span === null ? {} : { fromS: span[0], toS: span[1] }),
        },
        { signal },
      ),
    { enabled: captureId !== null && wanted, keep: true },
  )
  return {
    overlay: wanted && answer.data?.captureId === captureId ? answer.data : null,
    problem: wanted && answer.error !== null ? describeError(answer.error).message : '',
  }
}
