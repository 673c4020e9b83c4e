import type { Sweep } from '#shared/domain/capture.ts'
import { AppError, toErrorDetail } from '#shared/domain/errors.ts'
import type { MeasureInput } from '#shared/domain/measure-input.ts'
import { type Recipe, recipeHash } from '#shared/domain/recipe.ts'
import type { Result } from '#shared/domain/result.ts'
import { measureInputOf } from './measure-input.ts'
import type { StoredInput } from '#shared/domain/stored.ts'
import type { Analyzer, Store } from './ports.ts'
import { readInputs } from './read-inputs.ts'

export interface ReanalyseProgress {
  /** Captures dealt with, whether a result came of them or not. */
  readonly done: number
  readonly total: number
}

export interface ReanalyseOptions {
  readonly store: Store
  readonly analyzer: Analyzer
  readonly recipe: Recipe
  readonly scope: { campaignId?: number; sweepId?: number }
  readonly signal?: AbortSignal
  readonly onProgress?: (progress: ReanalyseProgress) => void
}

export interface ReanalyseReport {
  readonly measured: number
  readonly failed: readonly { readonly captureId: number; readonly problem: string }[]
}

/** Captures in one message to an analysis thread. */
const BATCH = 16
/** Batches under way for each thread: one computed, one waiting inside it, two read ahead. */
const WINDOW = 4
/** Results in one transaction. */
const WRITE = 100

type Measured = { captureId: number; result: Result; overrideId: number | null }

/**
 * Measures every capture of the scope that has no result under the recipe and the measuring code in use. Results are
 * added and none is overwritten, so it can be stopped at any time and started again: it goes on where it was. A capture
 * that cannot be read or measured is reported and does not stop the others. Rejects with `cancelled` (what was measured until
 * then is stored) or with the store's error.
 */
export async function reanalyse(options: ReanalyseOptions): Promise<ReanalyseReport> {
  const { store, analyzer, recipe, scope, signal, onProgress } = options
  const hash = recipeHash(recipe)
  await store.saveRecipe(recipe)
  const ids = await store.unmeasured(hash, scope)
  const sweeps = new Map<number, Promise<Sweep>>()
  const failed: { captureId: number; problem: string }[] = []
  let done = 0
  let measured = 0
  let pending: Measured[] = []
  let writing: Promise<void> = Promise.resolve()
  let broken: unknown = null

  const append = async (before: Promise<void>, batch: readonly Measured[]): Promise<void> => {
    await before
    if (batch.length === 0 || broken !== null) return
    await store.addResults(batch)
    measured += batch.length
  }
  /** One transaction after the other; resolves when everything measured so far is stored. */
  const write = (): Promise<void> => {
    const batch = pending
    pending = []
    writing = append(writing, batch)
    return writing
  }

  const sweepOf = (id: number): Promise<Sweep> => {
    let sweep = sweeps.get(id)
    if (sweep === undefined) {
      sweep = store.sweep({ sweepId: id })
      sweeps.set(id, sweep)
    }
    return sweep
  }

  const inputOf = async (stored: StoredInput): Promise<MeasureInput> => ({
    ...measureInputOf(stored, await sweepOf(stored.sweepId), stored.trace, recipe),
    override: stored.override,
  })

  const dealtWith = (count: number): void => {
    done += count
    onProgress?.({ done, total: ids.length })
  }

  const measureOne = async (captureId: number): Promise<void> => {
    const [stored] = await store.inputs([captureId])
    if (stored === undefined) return
    try {
      const result = await analyzer.measure(await inputOf(stored), signal)
      pending.push({ captureId, result, overrideId: stored.overrideId })
    } catch (error) {
      if (signal?.aborted === true) throw error
      failed.push({ captureId, problem: toErrorDetail(error).message })
    }
  }

  const measureBatch = async (batch: readonly StoredInput[]): Promise<void> => {
    try {
      const outcomes = await analyzer.measureMany(await Promise.all(batch.map(inputOf)), signal)
      outcomes.forEach((outcome, i) => {
        const stored = batch[i]
        if (stored === undefined) return
        const { captureId, overrideId } = stored
        if ('error' in outcome) failed.push({ captureId, problem: outcome.error.message })
        else pending.push({ captureId, result: outcome.result, overrideId })
      })
    } catch (error) {
      if (signal?.aborted === true) throw error
      const { code } = toErrorDetail(error)
      if (code !== 'worker-died' && code !== 'timeout') throw error
      // One capture took the thread down with the rest of its batch; alone, only the culprit fails.
      for (const { captureId } of batch) await measureOne(captureId)
    }
    dealtWith(batch.length)
    // Waiting for the disk here is what keeps the results in memory few.
    if (pending.length >= WRITE) await write()
  }

  onProgress?.({ done, total: ids.length })
  const active = new Set<Promise<void>>()
  const run = (batch: readonly StoredInput[]): void => {
    const task = measureBatch(batch)
      .catch((error: unknown) => {
        broken ??= error
      })
      .finally(() => {
        active.delete(task)
      })
    active.add(task)
  }

  try {
    for (let next = 0; next < ids.length;) {
      if (signal?.aborted === true || broken !== null) break
      const wanted = ids.slice(next, next + BATCH)
      const { stored, unreadable, taken } = await readInputs(store, wanted)
      next += taken
      failed.push(...unreadable)
      if (unreadable.length > 0) dealtWith(unreadable.length)
      if (stored.length > 0) run(stored)
      while (active.size >= WINDOW * analyzer.concurrency) await Promise.race(active)
    }
  } catch (error) {
    broken ??= error
  }
  await Promise.all(active)
  const reason = broken
  // What was measured before a cancellation or a failure is worth keeping.
  broken = null
  try {
    await write()
  } catch (error) {
    if (reason === null) throw error
  }
  if (signal?.aborted === true) throw new AppError('cancelled', 'The re-analysis was cancelled.')
  if (reason !== null) throw reason
  return { measured, failed: failed.sort((a, b) => a.captureId - b.captureId) }
}
