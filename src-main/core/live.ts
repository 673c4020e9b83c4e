import type { RawTrace } from '#shared/domain/capture.ts'
import type { Result } from '#shared/domain/result.ts'
import type { LiveView } from '#shared/domain/views.ts'
import { mean } from '#shared/signal/statistics.ts'
import type { Draw } from './measure-apart.ts'

interface LiveSource {
  readonly trace: RawTrace
  readonly result: Result | null
  /** Sweep the recording belongs to; null while aiming. */
  readonly sweepId: number | null
  readonly captureId: number | null
  readonly from: number | null
  readonly to: number | null
  readonly refreshHz: number
  /** Samples recorded before the rig's trigger; absent when it had none. */
  readonly triggerIndex?: number
}

/** Holds only the newest recording; a slow reader misses recordings instead of queueing them. */
export interface Live {
  put(source: LiveSource): void
  /** The newest recording as an envelope, or null when nothing came since `since`. */
  view(since: number, columns: number): Promise<LiveView | null>
}

export function createLive(draw: Draw): Live {
  let revision = 0
  let newest: LiveSource | null = null
  return {
    put(source) {
      newest = source
      revision += 1
    },
    async view(since, columns) {
      if (newest === null || revision <= since) return null
      const shown = revision
      const { trace, result, sweepId, captureId, from, to, refreshHz, triggerIndex } = newest
      const endS = trace.samples.length / trace.sampleRateHz
      return {
        revision: shown,
        sweepId,
        // Mean of the whole recording.
        meanV: (mean(trace.samples) ?? 0) * trace.scaleV + trace.offsetV,
        captureId,
        from,
        to,
        refreshHz,
        result,
        rangeV: trace.rangeV,
        triggerS: triggerIndex === undefined ? null : triggerIndex / trace.sampleRateHz,
        envelope: await draw('envelope', { trace, fromS: 0, toS: endS, columns }),
      }
    },
  }
}
