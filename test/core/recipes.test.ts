import { afterAll, afterEach, describe, expect, it } from 'vitest'
import type { Analyzer } from '#main/core/ports.ts'
import { AppError } from '#shared/domain/errors.ts'
import { DEFAULT_RECIPE, RECIPE_PRESETS, recipeHash, recipeSchema, type Recipe } from '#shared/domain/recipe.ts'
import { measureCapture } from '#shared/measure/measure-capture.ts'
import { openBenchCore, type BenchCore } from '../support/bench-core.ts'
import { temporaryFolder } from '../store/fixtures.ts'
import { capturesOf } from '../support/captures.ts'

const NARROW = recipeSchema.parse({
  name: 'Narrow end band',
  endBand: { kind: 'percent', percent: 1 },
  duration: { kind: 'percent', percent: 5 },
})
const DEFAULT_HASH = recipeHash(DEFAULT_RECIPE)
const NARROW_HASH = recipeHash(NARROW)

let bench: BenchCore | null = null
const folder = temporaryFolder()
afterEach(async () => {
  await bench?.close()
  bench = null
})
afterAll(() => folder.remove())

async function openAt(name: string, analyzer: Partial<Analyzer> = {}): Promise<BenchCore> {
  bench = await openBenchCore({ archive: `${folder.path}/${name}`, analyzer })
  return bench
}

/** A finished sweep of twelve captures. */
async function swept(
  name: string,
  analyzer: Partial<Analyzer> = {},
): Promise<{ on: BenchCore; sweepId: number; ids: number[] }> {
  const on = await openAt(name, analyzer)
  await on.core.system.acknowledgeWarning({ understood: true })
  const sweepId = await on.plan()
  await on.core.sweeps.start({ sweepId })
  await on.until((state) => state.sweep?.state === 'finished', 'the end of the sweep')
  await on.core.sweepIdle()
  const rows = await capturesOf(on.store, { recipeHash: DEFAULT_HASH, sweepId, verdict: 'good' })
  return { on, sweepId, ids: rows.map(({ info }) => info.id) }
}

async function finished(on: BenchCore, jobId: string): Promise<void> {
  await on.until(({ jobs }) => jobs.some(({ id, state }) => id === jobId && state !== 'running'), 'the end of the job')
}

describe('the recipe in use', () => {
  it('survives a restart, with the one before it to switch back to', async () => {
    let on = await openAt('in-use')
    expect(on.state()).toMatchObject({ recipeHash: DEFAULT_HASH, recipeHashBefore: null })
    await on.core.recipes.save(NARROW)
    await on.core.recipes.use({ recipeHash: NARROW_HASH, remember: true })
    expect(on.state()).toMatchObject({ recipeHash: NARROW_HASH, recipeHashBefore: DEFAULT_HASH })
    await on.close()
    on = await openAt('in-use')
    expect(on.state()).toMatchObject({ recipeHash: NARROW_HASH, recipeHashBefore: DEFAULT_HASH })
    await on.core.recipes.use({ recipeHash: DEFAULT_HASH, remember: true })
    expect(on.state()).toMatchObject({ recipeHash: DEFAULT_HASH, recipeHashBefore: NARROW_HASH })
    await on.core.recipes.use({ recipeHash: DEFAULT_HASH, remember: true })
    expect(on.state().recipeHashBefore).toBe(NARROW_HASH)
  })

  it('is not remembered when that is not wanted, and an unknown one changes nothing', async () => {
    let on = await openAt('passing')
    await on.core.recipes.save(NARROW)
    await on.core.recipes.use({ recipeHash: NARROW_HASH, remember: false })
    expect(on.state().recipeHash).toBe(NARROW_HASH)
    await expect(on.core.recipes.use({ recipeHash: '0'.repeat(16), remember: true })).rejects.toMatchObject({
      code: 'not-found',
    })
    expect(on.state().recipeHash).toBe(NARROW_HASH)
    await on.close()
    on = await openAt('passing')
    expect(on.state()).toMatchObject({ recipeHash: DEFAULT_HASH, recipeHashBefore: null })
  })
})

describe('saving', () => {
  it('says whether the parameters are new, and keeps the first name', async () => {
    const on = await openAt('saving')
    expect(await on.core.recipes.save(NARROW)).toEqual({ hash: NARROW_HASH, name: NARROW.name, added: true })
    const again = await on.core.recipes.save({ ...NARROW, name: 'The same by another name' })
    expect(again).toEqual({ hash: NARROW_HASH, name: NARROW.name, added: false })
    const [preset] = RECIPE_PRESETS as [Recipe]
    expect((await on.core.recipes.save({ ...preset, name: 'Mine' })).added).toBe(false)
    expect(await on.core.recipes.list()).toHaveLength(RECIPE_PRESETS.length + 1)
  })
})

describe('previews', () => {
  it('measures one capture as it would be stored, gives its conditioned trace, and stores nothing', async () => {
    const { on, sweepId, ids } = await swept('preview')
    const [captureId = 0] = ids
    const under = (recipe: Recipe, columns?: number) =>
      on.core.recipes.preview({ captureId, recipe, ...(columns === undefined ? {} : { columns }) })
    expect((await under(DEFAULT_RECIPE, 512)).conditioned).toBeNull()
    expect((await under(DEFAULT_RECIPE)).result).toMatchObject({
      values: (await on.store.result(captureId, DEFAULT_HASH))?.values,
    })
    const narrow = await under(NARROW)
    expect(narrow.result.recipeHash).toBe(NARROW_HASH)
    expect(narrow.result.values.settling_s).toBeGreaterThan(
      (await under(DEFAULT_RECIPE)).result.values.settling_s ?? Infinity,
    )
    const smooth = await under(
      { ...NARROW, condition: { kind: 'low-pass', shape: 'bessel-4', cutoffHz: 500, phase: 'zero' } },
      512,
    )
    expect(smooth.conditioned?.min.length).toBeGreaterThan(100)
    expect(await on.store.unmeasured(NARROW_HASH, { sweepId })).toEqual(ids)
    await on.core.recipes.save(NARROW)
    const { jobId } = await on.core.recipes.reanalyse({ recipeHash: NARROW_HASH, sweepId })
    await finished(on, jobId)
    expect((await on.store.result(captureId, NARROW_HASH))?.values).toEqual(narrow.result.values)
    await expect(on.core.recipes.preview({ captureId: 9999, recipe: NARROW })).rejects.toMatchObject({
      code: 'not-found',
    })
    expect((await under(NARROW)).result.values).toEqual(narrow.result.values)
  })

  it('heeds marks moved by hand, also when they move after the capture was looked at', async () => {
    const { on, ids } = await swept('marks')
    const [captureId = 0] = ids
    const before = (await on.core.recipes.preview({ captureId, recipe: NARROW })).result
    await on.core.reviews.add({
      captureId,
      decision: 'override',
      reason: 'The window took in the edge.',
      reviewer: 'A',
      override: { crossLowS: (before.landmarks.crossLowS ?? 0) - 0.001 },
    })
    const moved = (await on.core.recipes.preview({ captureId, recipe: NARROW })).result
    expect(moved.values.transition_duration_s).toBeCloseTo((before.values.transition_duration_s ?? 0) + 0.001, 6)
    await on.core.reviews.undo()
    const back = (await on.core.recipes.preview({ captureId, recipe: NARROW })).result
    expect(back.values).toEqual(before.values)
  })

  it('measures a spread sample under both recipes, without what a review set aside', async () => {
    const { on, sweepId, ids } = await swept('sample')
    const [out = 0] = ids
    await on.core.reviews.add({ captureId: out, decision: 'exclude', reason: 'Seen.', reviewer: 'A', override: null })
    const ask = { recipe: NARROW, sweepId, count: 6, seed: 3 }
    const sample = await on.core.recipes.previewSample(ask)
    expect(sample).toMatchObject({ total: ids.length - 1, seed: 3 })
    expect(sample.captures).toHaveLength(6)
    expect(new Set(sample.captures.map(({ from, to }) => `${from} ${to}`)).size).toBe(6)
    for (const { captureId, a, b } of sample.captures) {
      expect(captureId).not.toBe(out)
      const [stored] = await on.store.inputs([captureId])
      if (stored === undefined) throw new Error('The capture is gone.')
      expect(a?.values).toEqual((await on.store.result(captureId, DEFAULT_HASH))?.values)
      const sweep = await on.store.sweep({ sweepId })
      const { trace, from, to, triggerIndex } = stored
      const { refreshHz } = sweep.plan
      const input = {
        trace,
        from,
        to,
        triggerIndex,
        refreshHz,
        ladder: sweep.ladder,
        edgeAtTrigger: true,
        recipe: NARROW,
      }
      expect(b?.values).toEqual(measureCapture(input).values)
    }
    expect(await on.core.recipes.previewSample(ask)).toEqual(sample)
    expect(await on.store.unmeasured(NARROW_HASH, { sweepId })).toEqual(ids)
    expect(await on.core.recipes.previewSample({ ...ask, sweepId: 999 })).toMatchObject({ total: 0, captures: [] })
  })
})

describe('comparing stored results', () => {
  it('pairs captures, counts what is not measured, and refuses what it does not know', async () => {
    const { on, sweepId, ids } = await swept('compare')
    await on.core.recipes.save(NARROW)
    const ask = {
      sweepId,
      oldHash: DEFAULT_HASH,
      newHash: NARROW_HASH,
      measures: ['settling_s' as const, 'snr' as const],
      most: 3,
    }
    const early = await on.core.recipes.compare(ask)
    expect(early.unmeasured).toEqual({ old: 0, new: ids.length })
    expect(early.comparisons[0]?.cells.every(({ n }) => n === 0)).toBe(true)
    const { jobId } = await on.core.recipes.reanalyse({ recipeHash: NARROW_HASH, sweepId })
    await finished(on, jobId)
    const { unmeasured, comparisons } = await on.core.recipes.compare(ask)
    expect(unmeasured).toEqual({ old: 0, new: 0 })
    const [settling, snr] = comparisons
    expect(settling?.cells.reduce((sum, { n }) => sum + n, 0)).toBe(ids.length)
    expect(settling?.mostChanged).toHaveLength(3)
    expect(settling?.summaries.find(({ name }) => name === 'mean')?.difference).toBeGreaterThan(0)
    expect(snr?.mostChanged).toEqual([])
    await expect(on.core.recipes.compare({ ...ask, newHash: 'f'.repeat(16) })).rejects.toMatchObject({
      code: 'not-found',
    })
    await expect(on.core.recipes.compare({ ...ask, sweepId: 999 })).rejects.toMatchObject({ code: 'not-found' })
  })
})

describe('applying to all', () => {
  it('says in the job and in the log which captures could not be measured', async () => {
    const { on, sweepId, ids } = await swept('failing', {
      measureMany: async (inputs) =>
        inputs.map((input, i) =>
          i < 5
            ? { error: { code: 'internal', message: 'Nothing to measure in it.', remedy: '' } }
            : { result: measureCapture(input) },
        ),
    })
    await on.core.recipes.save(NARROW)
    const { jobId } = await on.core.recipes.reanalyse({ recipeHash: NARROW_HASH, sweepId })
    await finished(on, jobId)
    const named = ids.slice(0, 3).map((id) => `capture ${id}: Nothing to measure in it.`)
    const job = on.state().jobs.find(({ id }) => id === jobId)
    expect(job).toMatchObject({
      state: 'finished',
      problem: `5 could not be measured (${named.join(' ')} …).`,
      done: ids.length,
      total: ids.length,
    })
    const [entry] = (await on.core.system.log({ limit: 1 })).slice(-1)
    expect(entry).toMatchObject({ level: 'warn', text: expect.stringContaining('5 could not be measured') as string })
    expect(await on.store.unmeasured(NARROW_HASH, { sweepId })).toEqual(ids.slice(0, 5))
  })

  it('can be cancelled, and says so', async () => {
    let given = 0
    const { on, sweepId } = await swept('cancelled', {
      measureMany: (inputs, signal) => {
        given += inputs.length
        return new Promise((_resolve, reject) => {
          signal?.addEventListener('abort', () => reject(new AppError('cancelled', 'Cancelled.')))
        })
      },
    })
    await on.core.recipes.save(NARROW)
    const { jobId } = await on.core.recipes.reanalyse({ recipeHash: NARROW_HASH, sweepId })
    await expect.poll(() => given).toBeGreaterThan(0)
    await on.core.jobs.cancel({ jobId })
    await finished(on, jobId)
    expect(on.state().jobs.find(({ id }) => id === jobId)).toMatchObject({ state: 'cancelled', done: 0 })
    await expect(on.core.jobs.cancel({ jobId })).rejects.toMatchObject({ code: 'not-found' })
  })
})
