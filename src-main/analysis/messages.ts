/** What travels between the pool and its threads. */
import type { MeasureInput } from '#shared/domain/measure-input.ts'
import type { MeasureOutcome } from '#main/core/ports.ts'

export interface AnalysisJob {
  readonly id: number
  readonly inputs: readonly MeasureInput[]
}

/** The first message says that the thread has loaded its code (`ready`); the others are answers in order. */
export type AnalysisReply =
  | { readonly ready: true }
  | { readonly id: number; readonly outcomes: readonly MeasureOutcome[] }
