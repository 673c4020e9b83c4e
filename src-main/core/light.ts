/** Periodic light measured on request; nothing of it is stored. */
import type { Contract } from '#shared/contract/contract.ts'
import type { RawTrace } from '#shared/domain/capture.ts'
import { AppError } from '#shared/domain/errors.ts'
import type { LightPart } from '#shared/domain/light.ts'
import type { LightReading } from '#shared/measure/light.ts'
import type { Landmarks } from '#shared/domain/result.ts'
import { decodeText } from '#shared/import/decode.ts'
import { parseRecordingGently } from '#shared/import/recording.ts'
import type { Draw } from './measure-apart.ts'
import type { Parsed } from './facade.ts'
import { previewImport } from './import.ts'
import { measureInputOf } from './measure-input.ts'
import type { Analyzer, Clock, Staging, Store } from './ports.ts'
import type { RecipeBook } from './recipes.ts'

type Calls = Contract['light']

export interface Light {
  capture(input: Parsed<Calls['capture']>, signal?: AbortSignal): Promise<LightReading>
  recording(input: Parsed<Calls['recording']>, signal?: AbortSignal): Promise<LightReading>
}

export interface LightDeps {
  readonly store: Store
  readonly clock: Clock
  readonly staging: Pick<Staging, 'read'>
  readonly analyzer: Pick<Analyzer, 'light' | 'measure'>
  readonly recipes: Pick<RecipeBook, 'get'>
  readonly draw: Draw
}

const COLUMNS = 2048

export function createLight({ store, clock, staging, analyzer, recipes, draw }: LightDeps): Light {
  async function measure(
    trace: RawTrace,
    [first, end]: readonly [number, number],
    darkV: number | null,
    warnings: readonly string[],
    signal?: AbortSignal,
  ): Promise<LightReading> {
    const { sampleRateHz } = trace
    const [fromS, toS] = [first / sampleRateHz, end / sampleRateHz]
    const envelope = await draw('envelope', { trace, fromS, toS, columns: COLUMNS }, signal)
    const measured = await analyzer.light({ trace, first, end, darkV }, signal)
    return { ...measured, sampleRateHz, fromS, toS, samples: end - first, envelope, warnings }
  }

  return {
    async capture({ captureId, recipeHash, part, darkV }, signal) {
      const info = await store.capture(captureId)
      const [trace, stored, sweep] = await Promise.all([
        store.trace(captureId),
        store.result(captureId, recipeHash),
        store.sweep({ sweepId: info.sweepId }),
      ])
      const result =
        stored ?? (await analyzer.measure(measureInputOf(info, sweep, trace, recipes.get(recipeHash)), signal))
      const span = steadyPart(part, result.landmarks, trace)
      return measure(trace, span, darkV ?? sweep.ladder?.darkV ?? null, [], signal)
    },
    async recording({ fileId, name, mapping, darkV }, signal) {
      const text = decodeText(await staging.read(fileId))
      const preview = await previewImport(clock, name, text, mapping)
      if (preview.problem !== null)
        throw new AppError(preview.problem.code, preview.problem.message, preview.problem.remedy)
      const { trace, missing } = await parseRecordingGently(text, preview.mapping, () => clock.sleep(0))
      const gaps =
        missing === 0
          ? []
          : [`${missing} samples are missing in the file; the light there is taken as what stood before.`]
      return measure(trace, [0, trace.samples.length], darkV, [...preview.warnings, ...gaps], signal)
    },
  }
}

/** Samples of the steady light before or after the level change, as far as the landmarks allow. */
function steadyPart(part: LightPart, landmarks: Landmarks, trace: RawTrace): readonly [number, number] {
  const { length } = trace.samples
  if (part === 'record') return [0, length]
  const at = (seconds: number) => Math.min(length, Math.max(0, Math.round(seconds * trace.sampleRateHz)))
  const begins = part === 'before' ? 0 : (landmarks.settledAtS ?? landmarks.afterWindow?.[0] ?? null)
  const ends = part === 'before' ? (landmarks.onsetS ?? landmarks.beforeWindow?.[1] ?? null) : Infinity
  const span = begins === null || ends === null ? null : ([at(begins), ends === Infinity ? length : at(ends)] as const)
  if (span === null || span[1] - span[0] < 1)
    throw new AppError(
      'invalid-input',
      'No level change was found in this capture, so it is not known where its light is steady.',
      'Choose another capture, or the whole record.',
    )
  return span
}
