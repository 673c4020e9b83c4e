import { toErrorDetail } from '#shared/domain/errors.ts'
import type { MeasureInput } from '#shared/domain/measure-input.ts'
import type { Result } from '#shared/domain/result.ts'
import { measureLight } from '#shared/measure/light.ts'
import { draw, type Picture, type PictureJob } from '#shared/measure/pictures.ts'
import { uncertaintyTerms } from '#shared/measure/measure-capture.ts'
import type { MeasureOutcome } from '#main/core/ports.ts'

export type AnalysisCalls = ReturnType<typeof analysisCalls>

/** What an analysis thread can be asked. */
export function analysisCalls(measure: (input: MeasureInput) => Result) {
  return {
    measure,
    /** An error thrown for one input is that input's outcome and spoils no other. */
    measureMany: (inputs: readonly MeasureInput[]): MeasureOutcome[] =>
      inputs.map((input) => {
        try {
          return { result: measure(input) }
        } catch (error) {
          return { error: toErrorDetail(error) }
        }
      }),
    light: measureLight,
    causes: uncertaintyTerms,
    picture: ({ kind, request }: PictureJob): Picture => draw(kind, request),
  }
}
