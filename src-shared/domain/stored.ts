/** What goes into the archive and comes out of it for measuring. */
import type { CaptureInfo, RawTrace } from './capture.ts'
import type { Override } from './views.ts'

export interface NewCapture extends Omit<CaptureInfo, 'id' | 'sampleCount' | 'sampleRateHz'> {
  readonly trace: RawTrace
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
