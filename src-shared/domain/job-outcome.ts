/** What comes of long pieces of work. */
import type { ErrorDetail } from './errors.ts'
import type { GuidedOutcome } from './guided.ts'
import type { ImportReport } from './import.ts'
import type { JobKind, JobState } from './job.ts'
import type { LatencyOutcome } from './latency.ts'

/** Every kind of job with what comes of it; while it runs, what has come of it so far. */
export interface JobResults {
  readonly reanalyse: {
    readonly measured: number
    readonly failed: readonly { readonly captureId: number; readonly problem: string }[]
  }
  readonly import: ImportReport
  readonly export: { readonly name: string; readonly bytes: number }
  readonly latency: LatencyOutcome
  readonly guided: GuidedOutcome
  /** The demo library in the making. */
  readonly demo: { readonly captures: number }
}

export interface OutcomeOf<K extends JobKind> {
  readonly kind: K
  readonly state: JobState
  readonly result: JobResults[K]
  readonly failure: ErrorDetail | null
}
export type JobOutcome = { [K in JobKind]: OutcomeOf<K> }[JobKind]
