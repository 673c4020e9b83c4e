import type { MessagePort } from 'node:worker_threads'
import { toErrorDetail } from '#shared/domain/errors.ts'
import type { MeasureInput } from '#shared/domain/measure-input.ts'
import type { Result } from '#shared/domain/result.ts'
import { measureLight } from '#shared/measure/light.ts'
import { draw } from '#shared/measure/pictures.ts'
import { uncertaintyTerms } from '#shared/measure/measure-capture.ts'
import type { MeasureOutcome } from '#main/core/ports.ts'
import type { AnalysisJob, AnalysisReply, Done, Work } from './messages.ts'

/** Answers jobs in order; an error thrown for one input is that input's outcome and spoils no other. */
export function serve(port: MessagePort, measure: (input: MeasureInput) => Result): void {
  port.on('message', ({ id, work }: AnalysisJob) => {
    const reply: AnalysisReply = { id, done: run(work, measure) }
    port.postMessage(reply)
  })
  const ready: AnalysisReply = { ready: true }
  port.postMessage(ready)
}

function run(work: Work, measure: (input: MeasureInput) => Result): Done {
  if (!('inputs' in work))
    try {
      if ('light' in work) return { light: measureLight(work.light) }
      if ('picture' in work) return { picture: draw(work.picture.kind, work.picture.request) }
      return { causes: uncertaintyTerms(work.explain) }
    } catch (error) {
      return { error: toErrorDetail(error) }
    }
  return {
    outcomes: work.inputs.map((input): MeasureOutcome => {
      try {
        return { result: measure(input) }
      } catch (error) {
        return { error: toErrorDetail(error) }
      }
    }),
  }
}
