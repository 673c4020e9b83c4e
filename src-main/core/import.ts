/** Recordings of other instruments become captures of an imported sweep, measured on the same path as any other. */
import { AppError, toErrorDetail } from '#shared/domain/errors.ts'
import type { ImportMapping, ImportPreview, ImportSummary } from '#shared/domain/import.ts'
import type { MeasureInput } from '#shared/domain/measure-input.ts'
import { sweepPlanSchema, type SweepPlan } from '#shared/domain/plan.ts'
import type { Recipe } from '#shared/domain/recipe.ts'
import type { Result } from '#shared/domain/result.ts'
import type { Sweep, Verdict } from '#shared/domain/capture.ts'
import { checkedText } from '#shared/import/decode.ts'
import { previewRecording } from '#shared/import/preview.ts'
import { parseRecordingGently, type ParsedRecording } from '#shared/import/recording.ts'
import type { Parsed } from './facade.ts'
import type { Contract } from '#shared/contract/contract.ts'
import type { Clock, Store } from './ports.ts'

export type ImportRequest = Parsed<Contract['files']['importCommit']>
type ImportFile = ImportRequest['files'][number]

export interface ImportDeps {
  readonly store: Store
  readonly clock: Clock
  readonly recipe: Recipe
  readonly measure: (input: MeasureInput) => Result
  readonly onProgress?: (done: number, total: number) => void
}

/** How a file would be read; `import-unreadable` where it cannot be. */
export function previewImport(
  clock: Pick<Clock, 'sleep'>,
  name: string,
  text: string,
  mapping: ImportMapping | null,
): Promise<ImportPreview> {
  return named(name, () => previewRecording(name, text, mapping, () => clock.sleep(0)))
}

/**
 * Imports recordings as one sweep of origin `import`. A file that cannot be read is left out and named in `problems`;
 * when none can, nothing is stored and the first problem is thrown. Cancelling leaves what is stored so far, with the
 * sweep marked `stopped`.
 */
export async function commitImport(
  deps: ImportDeps,
  request: ImportRequest,
  signal?: AbortSignal,
): Promise<ImportSummary> {
  refuseUnusable(request)
  const { store, clock } = deps
  const problems: { name: string; problem: string }[] = []
  let firstError: unknown = null
  let sweep: Sweep | null = null
  let captures = 0
  const stopIfAsked = async (): Promise<void> => {
    if (!signal?.aborted) return
    if (sweep) await store.setSweepState(sweep.id, 'stopped', `Import cancelled after ${captures} captures.`)
    throw new AppError('cancelled', `The import was cancelled after ${captures} captures.`)
  }
  for (const [position, file] of request.files.entries()) {
    await stopIfAsked()
    let recording: ParsedRecording
    try {
      recording = await named(file.name, () =>
        parseRecordingGently(checkedText(file.text), file.mapping, () => clock.sleep(0)),
      )
    } catch (error) {
      firstError ??= error
      problems.push({ name: file.name, problem: toErrorDetail(error).message })
      continue
    }
    sweep ??= await store.createSweep({
      campaignId: request.campaignId,
      plan: planOf(request, recording),
      origin: 'import',
      rigIdentity: 'Imported recordings',
      total: request.files.length,
    })
    const verdict = await storeCapture(deps, sweep, file, position, recording)
    captures += 1
    if (verdict === 'no-edge')
      problems.push({ name: file.name, problem: 'No transition was found in it; it is kept but enters no matrix.' })
    if (verdict === 'gapped')
      problems.push({ name: file.name, problem: recording.warnings.find((text) => text.includes('missing')) ?? '' })
    deps.onProgress?.(position + 1, request.files.length)
    // Reading and measuring take their time; other calls get a turn in between.
    await clock.sleep(0)
  }
  if (sweep === null) throw firstError
  await store.setSweepState(sweep.id, 'finished', '')
  return { sweepId: sweep.id, captures, problems }
}

async function storeCapture(
  { store, clock, recipe, measure }: ImportDeps,
  sweep: Sweep,
  file: ImportFile,
  position: number,
  recording: ParsedRecording,
): Promise<Verdict> {
  const { trace, triggerIndex } = recording
  const result = measure({
    trace,
    triggerIndex,
    from: file.from,
    to: file.to,
    refreshHz: sweep.plan.refreshHz,
    ladder: null,
    edgeAtTrigger: false,
    recipe,
  })
  const verdict: Verdict = recording.missing > 0 ? 'gapped' : result.landmarks.crossMidS === null ? 'no-edge' : 'good'
  await store.addCapture(
    {
      sweepId: sweep.id,
      from: file.from,
      to: file.to,
      repeat: file.repeat,
      attempt: 1,
      position,
      takenAt: clock.iso(),
      verdict,
      trace,
      triggerIndex,
      source: file.name,
      frameLog: null,
    },
    result,
  )
  return verdict
}

function refuseUnusable({ files }: ImportRequest): void {
  const levels = new Set(files.flatMap((file) => [file.from, file.to]))
  if (levels.size > 33)
    throw new AppError(
      'invalid-input',
      `The recordings name ${levels.size} different levels; a sweep has at most 33.`,
      'Import them as several sweeps.',
    )
  const seen = new Set<string>()
  for (const { name, from, to, repeat } of files) {
    if (from === to)
      throw new AppError(
        'invalid-input',
        `${name}: both levels are ${from}.`,
        'Give the level before and after the change.',
      )
    const key = `${from}-${to} ${repeat}`
    if (seen.has(key))
      throw new AppError(
        'invalid-input',
        `${name}: repeat ${repeat} of ${from}→${to} is given twice.`,
        'Number the repeats of a transition 1, 2, 3 …',
      )
    seen.add(key)
  }
}

const within = (value: number, low: number, high: number): number => Math.min(high, Math.max(low, value))

/** The plan such recordings would have come from, as far as the first of them shows; times kept within what a plan can hold. */
function planOf(request: ImportRequest, recording: ParsedRecording): SweepPlan {
  const { files } = request
  const { sampleRateHz, rangeV, samples } = recording.trace
  const preS = within(recording.triggerIndex / sampleRateHz, 0.001, 5)
  const postS = within((samples.length - recording.triggerIndex) / sampleRateHz, 0.002, 20)
  const levels = [...new Set(files.flatMap((file) => [file.from, file.to]))]
  levels.sort((a, b) => a - b)
  return sweepPlanSchema.parse({
    setting: request.setting,
    refreshHz: request.refreshHz,
    levels,
    repeats: within(Math.max(...files.map((file) => file.repeat)), 1, 100),
    maxAttempts: 1,
    preS,
    postS,
    spacingS: within(Math.max(0.35, preS + postS), 0.35, 60),
    sampleRateHz: within(sampleRateHz, 500, 10_000_000),
    rangeV: within(rangeV, 0.001, 100),
    trigger: 'bus',
    transfer: 'real32',
  })
}

/** Puts the file's name before the message of what went wrong in it. */
async function named<T>(name: string, work: () => Promise<T>): Promise<T> {
  try {
    return await work()
  } catch (error) {
    if (!(error instanceof AppError)) throw error
    throw new AppError(error.code, `${name}: ${error.message}`, error.remedy)
  }
}
