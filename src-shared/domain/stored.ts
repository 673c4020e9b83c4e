/** What goes into the archive and comes out of it for measuring. */
import type { FrameLog, RawTrace, Verdict } from './capture.ts'
import type { Override } from './views.ts'

export interface NewCapture {
  readonly sweepId: number
  readonly from: number
  readonly to: number
  readonly repeat: number
  readonly attempt: number
  readonly position: number
  readonly takenAt: string
  readonly verdict: Verdict
  readonly trace: RawTrace
  readonly triggerIndex: number
  readonly source: string
  readonly frameLog: FrameLog | null
}

/** A capture that statistics may draw on. */
export interface UsableCapture {
  readonly captureId: number
  readonly sweepId: number
  readonly from: number
  readonly to: number
}

/** What measuring needs of a stored capture. */
export interface StoredInput {
  readonly captureId: number
  readonly sweepId: number
  readonly from: number
  readonly to: number
  readonly triggerIndex: number
  readonly trace: RawTrace
  /** Standing override and the review it comes from; results measured with it are stored under that review. */
  readonly override: Override | null
  readonly overrideId: number | null
}
