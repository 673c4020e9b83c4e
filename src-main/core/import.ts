/** Recordings of other instruments become captures of an imported sweep, measured on the same path as any other. */
import { AppError, toErrorDetail } from '#shared/domain/errors.ts'
import type {
  ImportFile,
  ImportMapping,
  ImportPreview,
  ImportProblem,
  ImportRequest,
  ImportSummary,
} from '#shared/domain/import.ts'
import { sweepPlanSchema, type SweepPlan } from '#shared/domain/plan.ts'
import type { Recipe } from '#shared/domain/recipe.ts'
import type { Sweep, Verdict } from '#shared/domain/capture.ts'
import { checkedText } from '#shared/import/decode.ts'
import { previewRecording } from '#shared/import/preview.ts'
import { parseRecordingGently, type ParsedRecording } from '#shared/import/recording.ts'
import type { Measure } from './measure-apart.ts'
import type { Clock, Store } from './ports.ts'
import { plural } from '#shared/domain/quantity-text.ts'

/** How far an import has come. */
type ImportSoFar = Omit<ImportSummary, 'sweepId'> & { readonly sweepId: number | null; readonly done: number }

export interface ImportDeps {
  readonly store: Store
  readonly clock: Clock
  readonly recipe: Recipe
  readonly measure: Measure
  /** Called after every file, read or not. */
  readonly onProgress?: (soFar: ImportSoFar) => void
}

/** How a file would be read; `import-unreadable` where it is no text. `columns`: width of its envelope, 0 for none. */
export function previewImport(
  clock: Pick<Clock, 'sleep'>,
  name: string,
  text: string,
  mapping: ImportMapping | null,
  columns = 0,
): Promise<ImportPreview> {
  return named(name, () => previewRecording(name, text, mapping, () => clock.sleep(0), columns))
}

/**
 * Imports recordings as one sweep of origin `import`. A file that cannot be read is left out and named in `problems`;
 * when none can, nothing is stored and the first problem is thrown. The sweep is hidden until the last file is done:
 * an import that is cancelled or fails shows in no list, and what it stored until then can be put back.
 */
export async function commitImport(
  deps: ImportDeps,
  request: ImportRequest,
  signal?: AbortSignal,
): Promise<ImportSummary> {
  refuseUnusable(request.files)
  const { store } = deps
  const problems: ImportProblem[] = []
  let firstError: unknown = null
  let sweep: Sweep | null = null
  let captures = 0
  let good = 0
  try {
    for (const [position, file] of request.files.entries()) {
      stopIfAsked(signal, captures)
      let recording: ParsedRecording | null = null
      try {
        recording = await readFile(deps.clock, file, signal)
      } catch (error) {
        stopIfAsked(signal, captures)
        firstError ??= error
        const { message, remedy } = toErrorDetail(error)
        problems.push({ position, name: file.name, problem: message, remedy, kept: false })
      }
      if (recording !== null) {
        sweep ??= await store.createSweep({
          campaignId: request.campaignId,
          plan: planOf(request, recording),
          origin: 'imported',
          rigIdentity: 'Imported recordings',
          total: request.files.length,
          hidden: true,
        })
        const verdict = await storeCapture(deps, sweep, file, position, recording, signal)
        captures += 1
        if (verdict === 'good') good += 1
        else problems.push({ position, name: file.name, ...doubtOf(verdict, recording), kept: true })
      }
      const sweepId = sweep?.id ?? null
      deps.onProgress?.({ sweepId, captures, good, problems: [...problems], done: position + 1 })
      // Reading and measuring take their time; other calls get a turn in between.
      await deps.clock.sleep(0)
    }
    if (sweep === null) throw firstError
    await store.setSweepState(sweep.id, 'finished', '')
    await store.setSweepHidden(sweep.id, false)
    return { sweepId: sweep.id, captures, good, problems }
  } catch (error) {
    if (sweep !== null) await markUnfinished(store, sweep.id, error, signal?.aborted === true)
    throw error
  }
}

function stopIfAsked(signal: AbortSignal | undefined, captures: number): void {
  if (signal?.aborted !== true) return
  throw new AppError(
    'cancelled',
    captures === 0
      ? 'The import was cancelled; nothing was stored.'
      : `The import was cancelled after ${plural(captures, 'capture')}, which are hidden.`,
  )
}

/** The sweep is hidden already; its reason says why. A failing archive must not hide the failure it comes from. */
async function markUnfinished(store: Store, sweepId: number, error: unknown, cancelled: boolean): Promise<void> {
  const { message } = toErrorDetail(error)
  await store.setSweepState(sweepId, cancelled ? 'stopped' : 'failed', message).catch(() => undefined)
}

function readFile(clock: Clock, file: ImportFile, signal: AbortSignal | undefined): Promise<ParsedRecording> {
  return named(file.name, async () => {
    const text = typeof file.text === 'string' ? file.text : await file.text()
    return parseRecordingGently(checkedText(text), file.mapping, () => clock.sleep(0, signal))
  })
}

function doubtOf(verdict: Verdict, recording: ParsedRecording): Pick<ImportProblem, 'problem' | 'remedy'> {
  if (verdict === 'gapped')
    return {
      problem: recording.warnings.find((text) => text.includes('missing')) ?? 'Samples are missing in it.',
      remedy: 'Record this transition again to have it in the matrix.',
    }
  return {
    problem: 'No transition was found in it; it is kept but enters no matrix.',
    remedy: 'Look at its trace: another column may hold the light, or the record may miss the change.',
  }
}

async function storeCapture(
  { store, clock, recipe, measure }: ImportDeps,
  sweep: Sweep,
  file: ImportFile,
  position: number,
  recording: ParsedRecording,
  signal: AbortSignal | undefined,
): Promise<Verdict> {
  const { trace, triggerIndex } = recording
  const { from, to } = file
  const { refreshHz } = sweep.plan
  const result = await measure(
    { trace, triggerIndex, from, to, refreshHz, ladder: null, edgeAtTrigger: false, recipe },
    signal,
  )
  const verdict: Verdict = recording.missing > 0 ? 'gapped' : result.landmarks.crossMidS === null ? 'no-edge' : 'good'
  await store.addCapture(
    {
      sweepId: sweep.id,
      from,
      to,
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

/** Throws `invalid-input` for level pairs and repeats that make no sweep, before anything is read or stored. */
export function refuseUnusable(files: readonly Pick<ImportFile, 'name' | 'from' | 'to' | 'repeat'>[]): void {
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
        'Enter the levels before and after the change.',
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
  const rateHz = within(sampleRateHz, 500, 10_000_000)
  // A recording may be shorter or longer than any plan; the capture itself keeps what was recorded.
  const postS = within(
    within((samples.length - recording.triggerIndex) / sampleRateHz, 0.002, 20),
    101 / rateHz,
    3_999_999 / rateHz - preS,
  )
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
    sampleRateHz: rateHz,
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
