import type { MeasureInput } from '#shared/domain/measure-input.ts'
import type { Result } from '#shared/domain/result.ts'
import { measureCapture, uncertaintyTerms, type Causes } from '#shared/measure/measure-capture.ts'
import { draw, samplesOf, type PictureJob } from '#shared/measure/pictures.ts'
import type { Analyzer } from './ports.ts'

/** Up to here, some 5 ms of measuring, another thread costs more than it saves. */
const LONG_SAMPLES = 100_000

export type Measure = (input: MeasureInput, signal?: AbortSignal) => Promise<Result>

/** The causes of a capture's uncertainties, those of a long record found on another thread. */
export function causesApart(analyzer: Pick<Analyzer, 'causes'>): (input: MeasureInput) => Promise<Causes> {
  return async (input) => (input.trace.samples.length > LONG_SAMPLES ? analyzer.causes(input) : uncertaintyTerms(input))
}

/** Measures single captures: long records on another thread, because the host must keep neither a rig nor a person waiting. */
export function measureApart(analyzer: Pick<Analyzer, 'measure'>): Measure {
  return async (input, signal) =>
    input.trace.samples.length > LONG_SAMPLES ? analyzer.measure(input, signal) : measureCapture(input)
}

export type Draw = Analyzer['picture']

/** Pictures of records: those of long ones, or of many, on another thread. */
export function drawApart(analyzer: Pick<Analyzer, 'picture'>): Draw {
  return async (kind, request, signal) =>
    samplesOf({ kind, request } as PictureJob) > LONG_SAMPLES
      ? analyzer.picture(kind, request, signal)
      : draw(kind, request)
}
