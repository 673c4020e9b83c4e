/** What an unsaved recipe would say: of one capture while it is being edited, and of a sample. Nothing is stored. */
import type { Sweep } from '#shared/domain/capture.ts'
import { AppError } from '#shared/domain/errors.ts'
import type { MeasureInput } from '#shared/domain/measure-input.ts'
import type { Recipe } from '#shared/domain/recipe.ts'
import type { Result } from '#shared/domain/result.ts'
import type { RecipePreview } from '#shared/domain/views.ts'
import { sampledResult, spreadSample, type RecipeSample, type SampledCapture } from '#shared/findings/recipe-sample.ts'
import { drawApart, measureApart } from './measure-apart.ts'
import { measureInputOf } from './measure-input.ts'
import type { StoredInput } from '#shared/domain/stored.ts'
import type { Analyzer, Store } from './ports.ts'
import { readInputs } from './read-inputs.ts'

/** Captures whose samples are kept, so that a moving slider does not read them from the disk each time. */
const KEPT = 3
/** Captures of a sample in one message to a thread. */
const BATCH = 8

export interface RecipePreviews {
  one(input: { captureId: number; recipe: Recipe; columns?: number }, signal?: AbortSignal): Promise<RecipePreview>
  /** Measures a spread sample under `current` and under `recipe`. */
  sample(
    input: {
      recipe: Recipe
      count: number
      seed: number
      campaignId?: number | undefined
      sweepId?: number | undefined
    },
    current: Recipe,
    signal?: AbortSignal,
  ): Promise<RecipeSample>
  /** Marks moved by hand changed: what is kept is old. */
  forget(): void
}

export function createRecipePreviews(deps: { store: Store; analyzer: Analyzer }): RecipePreviews {
  const { store, analyzer } = deps
  const measure = measureApart(analyzer)
  const draw = drawApart(analyzer)
  const kept = new Map<number, Promise<{ stored: StoredInput; sweep: Sweep }>>()

  async function read(captureId: number): Promise<{ stored: StoredInput; sweep: Sweep }> {
    const [stored] = await store.inputs([captureId])
    if (stored === undefined)
      throw new AppError('not-found', `Capture ${captureId} is not in the archive.`, 'Choose another capture.')
    return { stored, sweep: await store.sweep({ sweepId: stored.sweepId }) }
  }

  function inputsOf(captureId: number): Promise<{ stored: StoredInput; sweep: Sweep }> {
    const found = kept.get(captureId) ?? read(captureId)
    // Taken out and put back: the map is in the order of use.
    kept.delete(captureId)
    kept.set(captureId, found)
    found.catch(() => kept.delete(captureId))
    const [oldest] = kept.keys()
    if (kept.size > KEPT && oldest !== undefined) kept.delete(oldest)
    return found
  }

  const inputOf = (stored: StoredInput, sweep: Sweep, recipe: Recipe): MeasureInput => ({
    ...measureInputOf(stored, sweep, stored.trace, recipe),
    override: stored.override,
  })

  /** Results in the order of `inputs`; null where one could not be measured. */
  async function measureAll(inputs: readonly MeasureInput[], signal?: AbortSignal): Promise<(Result | null)[]> {
    const batches: MeasureInput[][] = []
    for (let i = 0; i < inputs.length; i += BATCH) batches.push(inputs.slice(i, i + BATCH))
    const outcomes = await Promise.all(batches.map((batch) => analyzer.measureMany(batch, signal)))
    return outcomes.flat().map((outcome) => ('result' in outcome ? outcome.result : null))
  }

  return {
    async one({ captureId, recipe, columns }, signal) {
      const { stored, sweep } = await inputsOf(captureId)
      const input = inputOf(stored, sweep, recipe)
      const { trace } = input
      const result = await measure(input, signal)
      if (columns === undefined || recipe.condition.kind === 'none') return { result, conditioned: null }
      const toS = trace.samples.length / trace.sampleRateHz
      const { conditioned } = await draw('trace', { input, fromS: 0, toS, columns }, signal)
      return { result, conditioned }
    },
    async sample({ recipe, count, seed, campaignId, sweepId }, current, signal) {
      const scope = {
        ...(campaignId === undefined ? {} : { campaignId }),
        ...(sweepId === undefined ? {} : { sweepId }),
      }
      const all = await store.usableCaptures(scope)
      const chosen = spreadSample(all, count, seed)
      const sweeps = new Map((await store.sweeps({ campaignId })).map((sweep) => [sweep.id, sweep]))
      const ids = chosen.map(({ captureId }) => captureId)
      const measured: SampledCapture[] = []
      for (let next = 0; next < ids.length;) {
        if (signal?.aborted === true) throw new AppError('cancelled', 'The sample was cancelled.')
        // An answer ends early when its samples are many: the rest is asked for again. Damaged captures are left out.
        const { stored, taken } = await readInputs(store, ids.slice(next, next + 4 * BATCH))
        next += taken
        const known = stored.flatMap((one) => {
          const sweep = sweeps.get(one.sweepId)
          return sweep === undefined ? [] : [{ one, sweep }]
        })
        // Measuring takes the samples over, hence a copy for one of the two.
        const copied = known.map(({ one, sweep }) => {
          const copy = { ...one, trace: { ...one.trace, samples: one.trace.samples.slice() } }
          return inputOf(copy, sweep, current)
        })
        const [a, b] = await Promise.all([
          measureAll(copied, signal),
          measureAll(
            known.map(({ one, sweep }) => inputOf(one, sweep, recipe)),
            signal,
          ),
        ])
        known.forEach(({ one }, i) => {
          const { captureId, from, to } = one
          measured.push({
            captureId,
            sweepId: one.sweepId,
            from,
            to,
            a: sampledResult(a[i] ?? null),
            b: sampledResult(b[i] ?? null),
          })
        })
      }
      return { total: all.length, seed, captures: measured }
    },
    forget: () => kept.clear(),
  }
}
