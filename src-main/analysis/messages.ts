/** What travels between the pool and its threads. */
import type { ErrorDetail } from '#shared/domain/errors.ts'
import type { MeasureInput } from '#shared/domain/measure-input.ts'
import type { LightInput, LightMeasurement } from '#shared/measure/light.ts'
import type { Causes } from '#shared/measure/measure-capture.ts'
import type { Picture, PictureJob } from '#shared/measure/pictures.ts'
import type { MeasureOutcome } from '#main/core/ports.ts'

/** A batch of captures, one record of periodic light, one capture whose uncertainties are to be explained, or a picture. */
export type Work =
  | { readonly inputs: readonly MeasureInput[] }
  | { readonly light: LightInput }
  | { readonly explain: MeasureInput }
  | { readonly picture: PictureJob }
export type Done =
  | { readonly outcomes: readonly MeasureOutcome[] }
  | { readonly light: LightMeasurement }
  | { readonly causes: Causes }
  | { readonly picture: Picture }
  | { readonly error: ErrorDetail }

export interface AnalysisJob {
  readonly id: number
  readonly work: Work
}

/** The first message says that the thread has loaded its code (`ready`); the others are answers in order. */
export type AnalysisReply = { readonly ready: true } | { readonly id: number; readonly done: Done }
