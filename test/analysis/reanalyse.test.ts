import { readFileSync, writeFileSync } from 'node:fs'
import { afterEach, beforeEach, describe, expect, it } from 'vitest'
import { createPool } from '../../src-main/analysis/pool.ts'
import type { Analyzer, Store } from '../../src-main/core/ports.ts'
import { reanalyse, type ReanalyseProgress } from '../../src-main/core/reanalyse.ts'
import { DEFAULT_RECIPE, RECIPE_PRESETS, recipeHash } from '../../src-shared/domain/recipe.ts'
import { collectingLog, HASH, openTestStore, testCapture, testResult, testSweep, testTrace } from '../store/fixtures.ts'
import { storePerTest } from '../store/per-test.ts'
import { createInventedWorker } from '../support/workers.ts'
import { DIE, REFUSE } from './invented-worker.ts'

const on = storePerTest()
let analyzer: Analyzer
beforeEach(() => {
  analyzer = createPool({ size: 2, createWorker: createInventedWorker, log: collectingLog() })
})
afterEach(() => analyzer.close())

async function fill(
  count: number,
  first: (i: number) => number = (i) => i,
): Promise<{ sweepId: number; ids: number[] }> {
  const { sweepId } = await testSweep(on.store)
  const ids: number[] = []
  for (let i = 0; i < count; i++) {
    const trace = testTrace(i, 40)
    trace.samples.fill(first(i))
    ids.push((await on.store.addCapture(testCapture(sweepId, i, { trace }), null)).id)
  }
  return { sweepId, ids }
}

const snrOf = async (id: number, hash = HASH): Promise<number | null | undefined> =>
  (await on.store.result(id, hash))?.values.snr

describe('reanalyse', () => {
  it('measures every unmeasured capture of the scope with its own samples and overwrites nothing', async () => {
    const { sweepId, ids } = await fill(120)
    const other = await fill(3)
    const [first = 0] = ids
    await on.store.addResults([{ captureId: first, result: testResult({ snr: -1 }) }])
    const seen: ReanalyseProgress[] = []
    const report = await reanalyse({
      store: on.store,
      analyzer,
      recipe: DEFAULT_RECIPE,
      scope: { sweepId },
      onProgress: (progress) => seen.push(progress),
    })
    expect(report).toEqual({ measured: 119, failed: [] })
    expect(await snrOf(first)).toBe(-1)
    for (const [i, id] of ids.entries()) if (i > 0) expect(await snrOf(id)).toBe(i)
    expect(await on.store.unmeasured(HASH, {})).toEqual(other.ids)
    expect(seen[0]).toEqual({ done: 0, total: 119 })
    expect(seen.at(-1)).toEqual({ done: 119, total: 119 })
    expect(seen.every((progress, i) => i === 0 || progress.done > (seen[i - 1]?.done ?? 0))).toBe(true)
  })

  it('adds results of another recipe beside the first', async () => {
    const { ids } = await fill(5)
    const [id = 0] = ids
    const another = RECIPE_PRESETS[1] ?? DEFAULT_RECIPE
    await reanalyse({ store: on.store, analyzer, recipe: DEFAULT_RECIPE, scope: {} })
    await reanalyse({ store: on.store, analyzer, recipe: another, scope: {} })
    expect(await snrOf(id)).toBe(0)
    expect((await on.store.result(id, recipeHash(another)))?.recipeHash).toBe(recipeHash(another))
    expect(await reanalyse({ store: on.store, analyzer, recipe: another, scope: {} })).toEqual({
      measured: 0,
      failed: [],
    })
  })

  it('names the captures that cannot be measured, also one that takes its thread down', async () => {
    const { ids } = await fill(60, (i) => (i === 7 ? REFUSE : i === 20 ? DIE : i))
    const report = await reanalyse({ store: on.store, analyzer, recipe: DEFAULT_RECIPE, scope: {} })
    expect(report.measured).toBe(58)
    expect(report.failed.map(({ captureId }) => captureId)).toEqual([ids[7], ids[20]])
    expect(report.failed[0]?.problem).toBe('Nothing to measure in it.')
    expect(report.failed[1]?.problem).toContain('ended')
    expect(await on.store.unmeasured(HASH, {})).toEqual([ids[7], ids[20]])
  })

  it('measures all others where the samples of one are damaged, and names that one', async () => {
    const { ids } = await fill(100)
    await on.store.close()
    const bytes = readFileSync(on.path)
    // One bit of the samples of capture 41, which are all 40.
    const at = bytes.indexOf(Buffer.from(Int16Array.from({ length: 40 }, () => 40).buffer))
    expect(at).toBeGreaterThan(0)
    bytes[at + 10] = (bytes[at + 10] ?? 0) ^ 1
    writeFileSync(on.path, bytes)
    on.store = await openTestStore(on.path)
    const seen: ReanalyseProgress[] = []
    const report = await reanalyse({
      store: on.store,
      analyzer,
      recipe: DEFAULT_RECIPE,
      scope: {},
      onProgress: (progress) => seen.push(progress),
    })
    expect(report.measured).toBe(99)
    expect(report.failed).toEqual([
      { captureId: ids[40], problem: expect.stringContaining(`capture ${ids[40]}`) as string },
    ])
    expect(seen.at(-1)).toEqual({ done: 100, total: 100 })
    for (const [i, id] of ids.entries()) expect(await snrOf(id)).toBe(i === 40 ? undefined : i)
  })

  it('keeps what was measured when the archive can no longer be read', async () => {
    const { ids } = await fill(60)
    let reads = 0
    const failing: Store = new Proxy(on.store, {
      get: (target, name: keyof Store) =>
        name === 'inputs'
          ? (asked: readonly number[]) =>
              ++reads > 2 ? Promise.reject(new Error('The disk is gone.')) : target.inputs(asked)
          : target[name],
    })
    await expect(reanalyse({ store: failing, analyzer, recipe: DEFAULT_RECIPE, scope: {} })).rejects.toThrow(
      'The disk is gone.',
    )
    expect(await on.store.unmeasured(HASH, {})).toEqual(ids.slice(32))
  })

  it('keeps what was measured when it is cancelled, and goes on there', async () => {
    const { ids } = await fill(200)
    const abort = new AbortController()
    const cancelled = reanalyse({
      store: on.store,
      analyzer,
      recipe: DEFAULT_RECIPE,
      scope: {},
      signal: abort.signal,
      onProgress: ({ done }) => {
        if (done >= 48) abort.abort()
      },
    })
    await expect(cancelled).rejects.toMatchObject({ code: 'cancelled' })
    const left = await on.store.unmeasured(HASH, {})
    expect(left.length).toBeLessThanOrEqual(152)
    expect(left.length).toBeGreaterThan(0)
    const report = await reanalyse({ store: on.store, analyzer, recipe: DEFAULT_RECIPE, scope: {} })
    expect(report).toEqual({ measured: left.length, failed: [] })
    for (const [i, id] of ids.entries()) expect(await snrOf(id)).toBe(i)
  })

  it('measures a capture with a standing override by its marks and stores that beside the machine’s own', async () => {
    const { ids } = await fill(2)
    const [id = 0] = ids
    await reanalyse({ store: on.store, analyzer, recipe: DEFAULT_RECIPE, scope: {} })
    const marks = { crossLowS: 0.25 }
    await on.store.addReview({ captureId: id, decision: 'override', reason: 'Spike.', reviewer: 'A', override: marks })
    expect(await reanalyse({ store: on.store, analyzer, recipe: DEFAULT_RECIPE, scope: {} })).toMatchObject({
      measured: 1,
    })
    expect((await on.store.result(id, HASH))?.values.step_v).toBe(0.25)
    await on.store.undo()
    expect((await on.store.result(id, HASH))?.values.step_v).toBeNull()
  })

  it('stops at an error of the archive', async () => {
    await fill(40)
    const failing: Store = new Proxy(on.store, {
      get: (target, name: keyof Store) =>
        name === 'addResults' ? () => Promise.reject(new Error('The disk is full.')) : target[name],
    })
    await expect(reanalyse({ store: failing, analyzer, recipe: DEFAULT_RECIPE, scope: {} })).rejects.toThrow(
      'The disk is full.',
    )
  })
})
