import type { MessagePort } from 'node:worker_threads'
import { toErrorDetail } from '#shared/domain/errors.ts'
import type { MeasureInput } from '#shared/domain/measure-input.ts'
import type { Result } from '#shared/domain/result.ts'
import type { MeasureOutcome } from '#main/core/ports.ts'
import type { AnalysisJob, AnalysisReply } from './messages.ts'

/** Answers jobs in order; an error thrown for one input is that input's outcome and spoils no other. */
export function serve(port: MessagePort, measure: (input: MeasureInput) => Result): void {
  port.on('message', ({ id, inputs }: AnalysisJob) => {
    const outcomes = inputs.map((input): MeasureOutcome => {
      try {
        return { result: measure(input) }
      } catch (error) {
        return { error: toErrorDetail(error) }
      }
    })
    const reply: AnalysisReply = { id, outcomes }
    port.postMessage(reply)
  })
  const ready: AnalysisReply = { ready: true }
  port.postMessage(ready)
}
