/** What follows from a decision: measuring, comparing, counting and announcing; and what the desk is shown. */
import { afterEach, beforeEach, describe, expect, it } from 'vitest'
import type { MeasureId } from '#shared/domain/measures.ts'
import { recipeSchema } from '#shared/domain/recipe.ts'
import type { Override, ReviewDecision } from '#shared/domain/views.ts'
import { openBenchCore, planOf, type BenchCore } from '../support/bench-core.ts'
import { testCapture, testResult } from '../store/fixtures.ts'
import { capturesOf } from '../support/captures.ts'

let on: BenchCore
beforeEach(async () => {
  on = await openBenchCore()
})
afterEach(() => on.close())

const decide = (
  captureId: number,
  decision: ReviewDecision,
  override: Override | null = null,
): Promise<{ id: number }> =>
  on.core.reviews.add({ captureId, decision, reason: 'Seen.', reviewer: 'A. Tester', override })

/** Twelve captures of one pair of levels, six each way, from the simulated rig. */
async function sweptPair(): Promise<{ sweepId: number; recipeHash: string; ids: number[] }> {
  await on.core.system.acknowledgeWarning({ understood: true })
  const sweepId = await on.plan({ levels: [0, 255], repeats: 6, sampleRateHz: 50_000 })
  await on.core.sweeps.start({ sweepId })
  await on.until(({ sweep }) => sweep?.state === 'finished' && sweep.current === null, 'the end of the sweep')
  const { recipeHash } = on.state()
  const rows = await capturesOf(on.store, { recipeHash, sweepId, from: 0, to: 255 })
  return { sweepId, recipeHash, ids: rows.map((row) => row.info.id) }
}

/** A sweep of captures of one transition whose durations are given. */
async function invented(durationsMs: readonly number[], hashes?: readonly string[]): Promise<[number, number[]]> {
  const campaign = await on.core.campaigns.create({ name: 'Invented', display: '', note: '' })
  const plan = planOf({ levels: [0, 128], repeats: durationsMs.length })
  const sweep = await on.store.createSweep({
    campaignId: campaign.id,
    plan,
    origin: 'simulated',
    rigIdentity: '',
    total: 2 * durationsMs.length,
  })
  const ids: number[] = []
  for (const [k, ms] of durationsMs.entries()) {
    const values = { transition_duration_s: ms * 1e-3, ripple_frequency_hz: null }
    const { id } = await on.store.addCapture(testCapture(sweep.id, k, { repeat: k + 1 }), null)
    for (const hash of hashes ?? [on.state().recipeHash])
      await on.store.addResults([{ captureId: id, result: testResult(values, [], hash) }])
    ids.push(id)
  }
  return [sweep.id, ids]
}

async function differing(sweepId: number, recipeHash: string): Promise<number[]> {
  const rows = await capturesOf(on.store, { recipeHash, sweepId, flag: 'differs-from-repeats' })
  return rows.map((row) => row.info.id)
}

async function reanalysed(name: string, percent: number): Promise<string> {
  const recipe = recipeSchema.parse({ name, duration: { kind: 'percent', percent } })
  const { hash } = await on.core.recipes.save(recipe)
  const { jobId } = await on.core.recipes.reanalyse({ recipeHash: hash })
  await on.until((state) => state.jobs.some((job) => job.id === jobId && job.state === 'finished'), 'the re-analysis')
  return hash
}

describe('causes of a transition’s uncertainty', () => {
  it('are those its captures state, by size', async () => {
    const { recipeHash, ids } = await sweptPair()
    const measure = 'transition_duration_s'
    const causes = await on.core.captures.causes({ captureIds: ids, recipeHash, measure })
    expect(causes.map(({ name }) => name)).toContain('Noise')
    expect(causes.map(({ u }) => u)).toEqual(causes.map(({ u }) => u).sort((a, b) => b - a))
    const details = await Promise.all(ids.map((captureId) => on.core.captures.get({ captureId, recipeHash })))
    const stated = Math.hypot(...details.map(({ result }) => result?.uncertainties[measure] ?? 0))
    expect(Math.hypot(...causes.map(({ u }) => u))).toBeCloseTo(stated / Math.sqrt(ids.length), 12)
  })
})

describe('an override', () => {
  it('is measured at once under every recipe of its sweep, stored beside, marked, and undone', async () => {
    const { sweepId, recipeHash, ids } = await sweptPair()
    const other = await reanalysed('Twenty', 20)
    const id = ids[2] ?? 0
    const own = await on.core.captures.get({ captureId: id, recipeHash })
    const mid = own.result?.landmarks.crossMidS ?? 0
    const marks = { crossLowS: mid - 0.002, crossHighS: mid + 0.004 }
    const cell = async (hash: string, measure: MeasureId = 'transition_duration_s') => {
      const matrix = await on.core.sweeps.matrix({ sweepId, recipeHash: hash, measures: [measure] })
      expect(matrix.unmeasured).toBe(0)
      return matrix.cells.find((one) => one.from === 0)?.entries.find((entry) => entry.captureId === id)
    }
    on.events.length = 0
    const preview = await on.core.captures.previewOverride({ captureId: id, recipeHash, override: marks })
    expect(on.events).toEqual([])
    await decide(id, 'override', marks)
    expect(on.events.filter((event) => event.kind === 'changed').map((event) => event.what)).toEqual(
      expect.arrayContaining(['results', 'reviews']),
    )
    for (const hash of [recipeHash, other]) {
      const { result, overridden, ownResult } = await on.core.captures.get({ captureId: id, recipeHash: hash })
      expect(overridden).toBe(true)
      expect(result?.values.transition_duration_s).toBeCloseTo(0.006, 9)
      expect(ownResult?.values.transition_duration_s).not.toBeCloseTo(0.006, 4)
      expect(await cell(hash)).toMatchObject({ overridden: true, excluded: false })
      expect((await cell(hash))?.values.transition_duration_s).toBeCloseTo(0.006, 9)
    }
    const detail = await on.core.captures.get({ captureId: id, recipeHash })
    expect(detail.result?.values).toEqual(preview.values)
    expect(detail.ownResult?.values).toEqual(own.result?.values)

    // A recipe that comes later measures it by its marks; undone, the machine's own numbers are there too.
    const third = await reanalysed('Thirty', 30)
    expect(await cell(third)).toMatchObject({ overridden: true })
    const unsaved = recipeSchema.parse({ name: 'Unsaved', duration: { kind: 'percent', percent: 25 } })
    const previewed = await on.core.recipes.preview({ captureId: id, recipe: unsaved })
    expect(previewed.result.values.transition_duration_s).toBeCloseTo(0.006, 9)
    expect((await on.core.reviews.undo())?.words).toBe(`Undone: move the marks of capture ${id} (0 → 255, repeat 3).`)
    for (const hash of [recipeHash, other, third]) expect(await cell(hash)).toMatchObject({ overridden: false })
    const back = await on.core.captures.get({ captureId: id, recipeHash })
    expect(back.result).toEqual(own.result)
    await on.core.reviews.redo()
    for (const hash of [recipeHash, other, third]) expect(await cell(hash)).toMatchObject({ overridden: true })
  })

  it('is previewed fast enough to follow a drag', async () => {
    const { recipeHash, ids } = await sweptPair()
    const captureId = ids[0] ?? 0
    const times: number[] = []
    let last = 0
    for (let k = 0; k < 40; k++) {
      const override = { afterWindow: [0.2 + k * 1e-3, 0.25 + k * 1e-3] as [number, number] }
      const startedAt = process.threadCpuUsage()
      const { landmarks } = await on.core.captures.previewOverride({ captureId, recipeHash, override })
      times.push(process.threadCpuUsage(startedAt).user / 1000)
      expect(landmarks.afterWindow?.[0]).toBeCloseTo(0.2 + k * 1e-3, 4)
      last = landmarks.afterWindow?.[1] ?? 0
    }
    expect(last).toBeCloseTo(0.289, 3)
    times.sort((a, b) => a - b)
    expect(times[20]).toBeLessThan(50)
    expect((await on.core.captures.get({ captureId, recipeHash })).reviews).toEqual([])
  })
})

describe('comparisons within a sweep', () => {
  it('are drawn anew without what is excluded, and with it again when that is undone', async () => {
    const { recipeHash } = on.state()
    const [sweepId, ids] = await invented([5, 5.02, 4.98, 5.01, 9])
    await decide(ids[1] ?? 0, 'keep')
    expect(await differing(sweepId, recipeHash)).toEqual([ids[4]])
    // The one that differs keeps its flag when it is excluded: it is judged against the others.
    await decide(ids[4] ?? 0, 'exclude')
    expect(await differing(sweepId, recipeHash)).toEqual([ids[4]])
    const { result } = await on.core.captures.get({ captureId: ids[4] ?? 0, recipeHash })
    expect(result?.flags.at(-1)?.evidence).toMatch(/of 4 other captures/)
    // With three left there is nothing to compare with.
    on.events.length = 0
    await decide(ids[0] ?? 0, 'exclude')
    expect(await differing(sweepId, recipeHash)).toEqual([])
    expect(on.events).toContainEqual({ kind: 'changed', what: 'results' })
    const matrix = await on.core.sweeps.matrix({ sweepId, recipeHash, measures: ['transition_duration_s'] })
    expect(matrix.cells[0]?.entries.filter((entry) => entry.excluded).map((entry) => entry.captureId)).toEqual([
      ids[0],
      ids[4],
    ])
    await on.core.reviews.undo()
    expect(await differing(sweepId, recipeHash)).toEqual([ids[4]])
  })

  it('follow under the other recipes of the sweep too', async () => {
    const { recipeHash } = on.state()
    const { hash } = await on.core.recipes.save(recipeSchema.parse({ name: 'Other', darkCode: 1 }))
    const [sweepId, ids] = await invented([5, 5.02, 4.98, 5.01, 9], [recipeHash, hash])
    await decide(ids[1] ?? 0, 'keep')
    await expect.poll(() => differing(sweepId, hash)).toEqual([ids[4]])
    await decide(ids[1] ?? 0, 'exclude')
    await decide(ids[2] ?? 0, 'exclude')
    await expect.poll(() => differing(sweepId, hash)).toEqual([])
  })
})

describe('the desk', () => {
  it('lays repeats over a capture, aligned at the crossing, with mean and residual of those that count', async () => {
    const { recipeHash, ids } = await sweptPair()
    const [captureId = 0, second = 0] = ids
    await decide(second, 'exclude')
    const overlay = await on.core.captures.overlay({ captureId, recipeHash, columns: 400 })
    const { result } = await on.core.captures.get({ captureId, recipeHash })
    expect(overlay).toMatchObject({ captureId, counted: 4, excluded: 1, note: expect.any(String) as string })
    expect(overlay.alignedAtS).toBe(result?.landmarks.crossMidS)
    expect(overlay.others.map((other) => other.captureId)).toEqual(ids.slice(1))
    expect(overlay.others[0]).toMatchObject({ counts: false, reason: 'excluded' })
    for (const other of overlay.others) {
      const { result: theirs } = await on.core.captures.get({ captureId: other.captureId, recipeHash })
      expect(other.shiftS).toBeCloseTo((overlay.alignedAtS ?? 0) - (theirs?.landmarks.crossMidS ?? 0), 12)
    }
    // Repeats of a simulated panel agree within its noise; the step is some volts.
    const step = Math.abs(result?.values.step_v ?? 0)
    const residual = [...(overlay.residual?.min ?? []), ...(overlay.residual?.max ?? [])]
    expect(residual.length).toBeGreaterThan(600)
    expect(Math.max(...residual.map(Math.abs))).toBeLessThan(0.1 * step)
    expect(overlay.residual?.stepS).toBe(overlay.own.stepS)

    const fromS = (overlay.alignedAtS ?? 0) - 0.01
    const near = await on.core.captures.overlay({ captureId, recipeHash, columns: 200, fromS, toS: fromS + 0.03 })
    expect(near.own.startS).toBeCloseTo(fromS, 4)
    expect(near.own.min.length).toBe(200)
    await expect(
      on.core.captures.overlay({ captureId, recipeHash, columns: 200, fromS: 0.2, toS: 0.1 }),
    ).rejects.toMatchObject({ code: 'invalid-input' })
    await expect(on.core.captures.overlay({ captureId: 999, recipeHash, columns: 200 })).rejects.toMatchObject({
      code: 'not-found',
    })
  })

  it('says why there is no overlay without a crossing, and no mean without repeats', async () => {
    const { recipeHash } = on.state()
    const [, [id = 0]] = await invented([5])
    const alone = await on.core.captures.overlay({ captureId: id, recipeHash, columns: 64 })
    expect(alone).toMatchObject({ others: [], mean: null, residual: null, counted: 0 })
    expect(alone.note).toMatch(/No other capture/)
    const { id: flat } = await on.store.addCapture(
      testCapture((await on.store.capture(id)).sweepId, 7, {
        from: 128,
        to: 0,
        trace: { ...testCapture(1, 0).trace, samples: new Int16Array(1000).fill(5) },
      }),
      null,
    )
    const none = await on.core.captures.overlay({ captureId: flat, recipeHash, columns: 64 })
    expect(none).toMatchObject({
      alignedAtS: null,
      others: [],
      note: expect.stringMatching(/no 50 % crossing/) as string,
    })
    expect(none.own.min.length).toBe(64)
  })

  it('gives the spectrum of a span and refuses one too short', async () => {
    const { ids } = await sweptPair()
    const captureId = ids[0] ?? 0
    const view = await on.core.captures.spectrum({ captureId, fromS: 0.15, toS: 0.29 })
    expect(view.fromS).toBeCloseTo(0.15, 4)
    expect(view.toS).toBeCloseTo(0.29, 4)
    expect(view.amplitudeV.length).toBeGreaterThan(1000)
    expect(view.amplitudeV.every((value) => Number.isFinite(value) && value >= 0)).toBe(true)
    await expect(on.core.captures.spectrum({ captureId, fromS: 0.1, toS: 0.1001 })).rejects.toMatchObject({
      code: 'invalid-input',
    })
  })

  it('goes from doubtful capture to doubtful capture, also when a decision takes one out of the list', async () => {
    const { recipeHash } = on.state()
    const [sweepId, ids] = await invented([5, 9, 5.02, 4.98, 5.01, 20, 5, 5.01])
    await decide(ids[0] ?? 0, 'keep')
    const filter = {
      recipeHash,
      sweepId,
      doubtful: true,
      sort: { by: 'id' as const, descending: false },
      offset: 0,
      limit: 1,
    }
    const [first = 0, second = 0] = [ids[1], ids[5]]
    expect(await on.core.captures.neighbour({ filter, captureId: ids[0] ?? 0, direction: 'next' })).toEqual({
      captureId: first,
      index: 0,
      total: 2,
    })
    await decide(first, 'exclude')
    expect(await on.core.captures.neighbour({ filter, captureId: first, direction: 'next' })).toEqual({
      captureId: second,
      index: 0,
      total: 1,
    })
    expect(await on.core.captures.neighbour({ filter, captureId: first, direction: 'previous' })).toBeNull()
    expect(await on.core.captures.position({ filter, captureId: second })).toMatchObject({ index: 0, total: 1 })
    expect(await on.core.captures.position({ filter, captureId: first })).toBeNull()
  })

  it('keeps a history in words, notes among it', async () => {
    const [, [id = 0]] = await invented([5])
    expect(await on.core.reviews.steps()).toEqual({ undo: null, redo: null })
    expect(await on.core.reviews.undo()).toBeNull()
    expect(await on.core.reviews.redo()).toBeNull()
    await decide(id, 'exclude')
    await on.core.captures.setNote({ captureId: id, text: 'Fan.', reviewer: 'B. Tester' })
    expect(await on.core.reviews.steps()).toEqual({ undo: `note on capture ${id} (0 → 128, repeat 1)`, redo: null })
    await on.core.reviews.undo()
    expect(await on.core.reviews.steps()).toEqual({
      undo: `exclude capture ${id} (0 → 128, repeat 1)`,
      redo: `note on capture ${id} (0 → 128, repeat 1)`,
    })
    expect(await on.core.reviews.history({ limit: 10 })).toMatchObject([
      { kind: 'note', text: 'Fan.', reviewer: 'B. Tester', undone: true },
      { kind: 'review', text: 'Seen.', reviewer: 'A. Tester', undone: false },
    ])
  })
})
