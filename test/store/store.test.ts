import { afterEach, beforeEach, describe, expect, it } from 'vitest'
import { DEFAULT_RECIPE, RECIPE_PRESETS, recipeHash, recipeSchema } from '../../src-shared/domain/recipe.ts'
import { UNDECIDED } from '../../src-shared/domain/result.ts'
import type { Store } from '../../src-main/core/ports.ts'
import {
  filter,
  HASH,
  openTestStore,
  PLAN,
  temporaryFolder,
  testCapture,
  testFlag,
  testResult,
  testSweep,
  testTrace,
} from './fixtures.ts'

let folder: ReturnType<typeof temporaryFolder>
let path: string
let store: Store

beforeEach(async () => {
  folder = temporaryFolder()
  path = `${folder.path}/deeper/archive.slewlight`
  store = await openTestStore(path)
})
afterEach(async () => {
  await store.close()
  folder.remove()
})

describe('campaigns and sweeps', () => {
  it('gives back what was put in, also after closing', async () => {
    const { campaignId, sweepId } = await testSweep(store)
    const ladder = {
      steps: [{ level: 0, meanV: 0.1, sdV: 0.001, peakToPeakV: 0.006 }],
      darkV: null,
      takenAt: '2030-01-01T00:00:00.000Z',
    }
    await store.setLadder(sweepId, ladder)
    const paused = await store.setSweepState(sweepId, 'paused', 'The cable was pulled.')
    expect(paused).toMatchObject({ campaignId, plan: PLAN, state: 'paused', reason: 'The cable was pulled.', ladder })
    await store.close()
    store = await openTestStore(path)
    expect(await store.sweep({ sweepId })).toEqual(paused)
    expect(await store.sweeps({ campaignId })).toEqual([paused])
    expect(await store.sweeps({ campaignId: campaignId + 1 })).toEqual([])
    expect(await store.campaigns()).toMatchObject([{ id: campaignId, name: 'Invented' }])
  })

  it('refuses what is not there', async () => {
    await expect(store.sweep({ sweepId: 7 })).rejects.toMatchObject({ code: 'not-found' })
    await expect(store.setSweepState(7, 'paused', '')).rejects.toMatchObject({ code: 'not-found' })
    await expect(store.capture(7)).rejects.toMatchObject({ code: 'not-found' })
    await expect(store.trace(7)).rejects.toMatchObject({ code: 'not-found' })
    await expect(store.result(7, HASH)).rejects.toMatchObject({ code: 'not-found' })
    await expect(store.matrix({ sweepId: 7, recipeHash: HASH, measures: ['arrival_s'] })).rejects.toMatchObject({
      code: 'not-found',
    })
    await expect(store.addCapture(testCapture(7, 0), null)).rejects.toMatchObject({ code: 'not-found' })
    const campaignless = { campaignId: 7, plan: PLAN, origin: 'simulated', rigIdentity: '', total: 1 } as const
    await expect(store.createSweep(campaignless)).rejects.toMatchObject({ code: 'not-found' })
  })

  it('counts done and missing positions', async () => {
    const { sweepId } = await testSweep(store)
    await store.addCapture(testCapture(sweepId, 0), null)
    for (const attempt of [1, 2, 3])
      await store.addCapture(testCapture(sweepId, 1, { attempt, verdict: 'dropped-frame' }), null)
    await store.addCapture(testCapture(sweepId, 2, { verdict: 'gapped' }), null)
    expect(await store.sweep({ sweepId })).toMatchObject({ total: 10, done: 1, missing: 1 })
    expect(await store.progress(sweepId)).toEqual([
      { position: 0, attempts: 1, good: true },
      { position: 1, attempts: 3, good: false },
      { position: 2, attempts: 1, good: false },
    ])
  })
})

describe('captures and traces', () => {
  it.each(['int16', 'real32'] as const)(
    'keeps %s samples bit for bit and leaves the caller its array',
    async (format) => {
      const { sweepId } = await testSweep(store)
      const trace = { ...testTrace(1, 5000, format), offsetV: -0.25 }
      const copy = trace.samples.slice()
      const capture = testCapture(sweepId, 0, { trace })
      const info = await store.addCapture(capture, null)
      expect(trace.samples).toEqual(copy)
      const { trace: _trace, ...rest } = capture
      expect(info).toEqual({ id: info.id, ...rest, sampleCount: 5000, sampleRateHz: 50_000 })
      expect(await store.capture(info.id)).toEqual(info)
      expect(await store.trace(info.id)).toEqual(trace)
      expect(await store.inputs([99, info.id])).toEqual([
        {
          captureId: info.id,
          sweepId,
          from: 0,
          to: 128,
          triggerIndex: 250,
          trace,
          override: null,
          overrideId: null,
        },
      ])
    },
  )

  it('counts the captures of a sweep by verdict, attempts included', async () => {
    const { sweepId } = await testSweep(store)
    await store.addCapture(testCapture(sweepId, 0, { verdict: 'dropped-frame' }), testResult())
    await store.addCapture(testCapture(sweepId, 0, { attempt: 2 }), testResult())
    await store.addCapture(testCapture(sweepId, 1), testResult())
    expect(await store.verdicts(sweepId)).toEqual([
      { verdict: 'good', captures: 2 },
      { verdict: 'dropped-frame', captures: 1 },
    ])
    expect(await store.verdicts(99)).toEqual([])
  })

  it('stores a view without the rest of its buffer', async () => {
    const { sweepId } = await testSweep(store)
    const whole = testTrace(1, 5000)
    const samples = whole.samples.subarray(1000, 1100)
    const { id } = await store.addCapture(testCapture(sweepId, 0, { trace: { ...whole, samples } }), null)
    expect((await store.trace(id)).samples).toEqual(samples.slice())
  })

  it('refuses a second good capture at a position and a repeated attempt', async () => {
    const { sweepId } = await testSweep(store)
    await store.addCapture(testCapture(sweepId, 0, { verdict: 'gapped' }), null)
    await expect(store.addCapture(testCapture(sweepId, 0, { verdict: 'gapped' }), null)).rejects.toMatchObject({
      code: 'conflict',
    })
    await store.addCapture(testCapture(sweepId, 0, { attempt: 2 }), null)
    for (const attempt of [2, 3])
      await expect(store.addCapture(testCapture(sweepId, 0, { attempt }), null)).rejects.toMatchObject({
        code: 'conflict',
      })
    expect((await store.captures(filter())).total).toBe(2)
  })

  it('takes a new good capture where the old one was sent back, and counts only the newest', async () => {
    const { sweepId } = await testSweep(store)
    const old = await store.addCapture(testCapture(sweepId, 0), testResult())
    const retake = {
      captureId: old.id,
      decision: 'retake',
      reason: 'A hand passed.',
      reviewer: 'A',
      override: null,
    } as const
    await store.addReview(retake)
    expect(await store.progress(sweepId)).toEqual([{ position: 0, attempts: 0, good: false }])
    expect(await store.sweep({ sweepId })).toMatchObject({ done: 0 })
    expect((await store.matrix({ sweepId, recipeHash: HASH, measures: ['snr'] })).cells[0]?.entries).toMatchObject([
      { excluded: true },
    ])
    const anew = await store.addCapture(testCapture(sweepId, 0), testResult())
    expect(await store.progress(sweepId)).toEqual([{ position: 0, attempts: 1, good: true }])
    expect(await store.sweep({ sweepId })).toMatchObject({ done: 1 })
    expect((await store.matrix({ sweepId, recipeHash: HASH, measures: ['snr'] })).cells[0]?.entries).toMatchObject([
      { captureId: anew.id, excluded: false },
    ])
    await expect(store.addCapture(testCapture(sweepId, 0, { attempt: 2 }), null)).rejects.toMatchObject({
      code: 'conflict',
    })
  })

  it.each([
    ['no samples', { trace: { ...testTrace(1), samples: new Int16Array(0) } }],
    ['the wrong kind of samples', { trace: { ...testTrace(1), format: 'real32' as const } }],
    ['no sample rate', { trace: { ...testTrace(1), sampleRateHz: Number.NaN } }],
    ['a level outside 0–255', { to: 256 }],
    ['an unknown verdict', { verdict: 'fine' as 'good' }],
  ])('refuses %s and stores nothing of it', async (_name, change) => {
    const { sweepId } = await testSweep(store)
    await expect(store.addCapture(testCapture(sweepId, 0, change), null)).rejects.toMatchObject({
      code: 'invalid-input',
    })
    expect((await store.info()).captures).toBe(0)
  })
})

describe('results', () => {
  it('gives back a result whole, with its flags', async () => {
    const { sweepId } = await testSweep(store)
    const result = testResult({ in_window: 1 }, [testFlag('hum'), testFlag('clipped', { value: null, span: null })])
    const { id } = await store.addCapture(testCapture(sweepId, 0), result)
    expect(await store.result(id, HASH)).toEqual(result)
    expect(await store.result(id, recipeHash(RECIPE_PRESETS[1] ?? DEFAULT_RECIPE))).toBeNull()
  })

  it('keeps the first result of a capture, recipe and algorithm', async () => {
    const { sweepId } = await testSweep(store)
    const { id } = await store.addCapture(testCapture(sweepId, 0), testResult({ snr: 1 }))
    await store.addResults([{ captureId: id, result: testResult({ snr: 2 }, [testFlag('hum')]) }])
    expect(await store.result(id, HASH)).toEqual(testResult({ snr: 1 }))
  })

  it('shows only results of the measuring code in use', async () => {
    const { sweepId } = await testSweep(store)
    const { id } = await store.addCapture(testCapture(sweepId, 0), testResult({ snr: 1 }))
    await store.close()
    store = await openTestStore(path, undefined, 'later')
    expect(await store.result(id, HASH)).toBeNull()
    expect(await store.unmeasured(HASH, {})).toEqual([id])
    await store.addResults([{ captureId: id, result: testResult({ snr: 2 }, [], HASH, 'later') }])
    expect((await store.result(id, HASH))?.values.snr).toBe(2)
    await store.close()
    store = await openTestStore(path)
    expect((await store.result(id, HASH))?.values.snr).toBe(1)
  })

  it('refuses results of an unknown recipe or capture and values that are not numbers, whole batches at a time', async () => {
    const { sweepId } = await testSweep(store)
    const { id } = await store.addCapture(testCapture(sweepId, 0), null)
    const good = { captureId: id, result: testResult() }
    const unknown = { captureId: id, result: testResult({}, [], '0123456789abcdef') }
    await expect(store.addResults([good, unknown])).rejects.toMatchObject({ code: 'not-found' })
    await expect(store.addResults([good, { captureId: 99, result: testResult() }])).rejects.toMatchObject({
      code: 'not-found',
    })
    await expect(
      store.addResults([good, { captureId: id, result: testResult({ snr: Infinity }) }]),
    ).rejects.toMatchObject({ code: 'invalid-input' })
    await expect(store.addResults([{ ...good, overrideId: 5 }])).rejects.toMatchObject({ code: 'not-found' })
    expect(await store.result(id, HASH)).toBeNull()
  })

  it('lists unmeasured good captures by scope', async () => {
    const a = await testSweep(store)
    const b = await testSweep(store)
    const one = await store.addCapture(testCapture(a.sweepId, 0), null)
    const two = await store.addCapture(testCapture(b.sweepId, 0), null)
    await store.addCapture(testCapture(b.sweepId, 1, { verdict: 'no-edge' }), null)
    await store.addCapture(testCapture(b.sweepId, 2), testResult())
    expect(await store.unmeasured(HASH, {})).toEqual([one.id, two.id])
    expect(await store.unmeasured(HASH, { sweepId: b.sweepId })).toEqual([two.id])
    expect(await store.unmeasured(HASH, { campaignId: a.campaignId })).toEqual([one.id])
  })

  it('replaces group flags and counts them', async () => {
    const { sweepId } = await testSweep(store)
    const own = testFlag('hum')
    const { id } = await store.addCapture(testCapture(sweepId, 0), testResult({}, [own]))
    const bare = await store.addCapture(testCapture(sweepId, 1), null)
    const differs = testFlag('differs-from-repeats')
    await store.setGroupFlags(sweepId, HASH, [
      { captureId: id, flag: differs },
      { captureId: id, flag: testFlag('ripple-differs') },
      { captureId: bare.id, flag: differs },
    ])
    expect((await store.matrix({ sweepId, recipeHash: HASH, measures: ['snr'] })).cells[0]?.entries[0]?.flagCount).toBe(
      3,
    )
    await store.setGroupFlags(sweepId, HASH, [{ captureId: id, flag: differs }])
    expect((await store.result(id, HASH))?.flags).toEqual([own, differs])
    expect((await store.captures(filter({ flag: 'ripple-differs' }))).total).toBe(0)
    await store.setGroupFlags(sweepId, HASH, [])
    expect((await store.captures(filter())).rows[0]?.flags).toEqual(['hum'])
  })
})

describe('matrix', () => {
  it('groups by cell, counts what is unmeasured and marks what is excluded', async () => {
    const { sweepId } = await testSweep(store)
    const a = await store.addCapture(testCapture(sweepId, 0), testResult({ snr: 1, arrival_s: null }))
    const b = await store.addCapture(testCapture(sweepId, 1, { repeat: 2 }), testResult({ snr: 2 }, [testFlag('hum')]))
    const c = await store.addCapture(testCapture(sweepId, 2, { from: 128, to: 0 }), testResult({ snr: 3 }))
    await store.addCapture(testCapture(sweepId, 3, { from: 255, to: 0 }), null)
    await store.addCapture(testCapture(sweepId, 4, { verdict: 'gapped' }), testResult({ snr: 9 }))
    await store.addReview({ captureId: a.id, decision: 'exclude', reason: 'Lamp.', reviewer: 'A', override: null })
    const entry = {
      overridden: false,
      excluded: false,
      flagCount: 0,
      repeat: 1,
      uncertainties: {},
      undecided: false,
    }
    expect(await store.matrix({ sweepId, recipeHash: HASH, measures: ['snr', 'arrival_s'] })).toEqual({
      sweepId,
      recipeHash: HASH,
      levels: [0, 128, 255],
      unmeasured: 1,
      cells: [
        {
          from: 0,
          to: 128,
          entries: [
            { ...entry, captureId: a.id, values: { snr: 1, arrival_s: null }, excluded: true },
            { ...entry, captureId: b.id, repeat: 2, flagCount: 1, values: { snr: 2, arrival_s: 2.5 } },
          ],
        },
        { from: 128, to: 0, entries: [{ ...entry, captureId: c.id, values: { snr: 3, arrival_s: 2.5 } }] },
      ],
    })
  })

  it('gives uncertainties, the part they share, and what is undecided', async () => {
    const { sweepId } = await testSweep(store)
    const undecided = testResult({ in_window: null })
    const decided = testResult({ in_window: null })
    await store.addCapture(testCapture(sweepId, 0), { ...undecided, reasons: { in_window: UNDECIDED } })
    await store.addCapture(testCapture(sweepId, 1), { ...decided, reasons: { in_window: 'It never settles.' } })
    const { cells } = await store.matrix({
      sweepId,
      recipeHash: HASH,
      measures: ['transition_duration_s', 'in_window'],
    })
    expect(cells[0]?.entries).toMatchObject([
      { undecided: true, uncertainties: { transition_duration_s: 1.5e-5 }, common: { transition_duration_s: 0.5e-5 } },
      { undecided: false },
    ])
  })

  it('takes the result of a standing override, and the machine’s own again when it is taken back', async () => {
    const { sweepId } = await testSweep(store)
    const { id } = await store.addCapture(testCapture(sweepId, 0), testResult({ snr: 1 }))
    const marks = { crossLowS: 0.0052 }
    const review = await store.addReview({
      captureId: id,
      decision: 'override',
      reason: 'Mark on a spike.',
      reviewer: 'A',
      override: marks,
    })
    expect(await store.unmeasured(HASH, {})).toEqual([id])
    expect(await store.inputs([id])).toMatchObject([{ override: marks, overrideId: review.id }])
    await store.addResults([{ captureId: id, result: testResult({ snr: 2 }), overrideId: review.id }])
    expect(await store.unmeasured(HASH, {})).toEqual([])
    expect((await store.result(id, HASH))?.values.snr).toBe(2)
    expect((await store.matrix({ sweepId, recipeHash: HASH, measures: ['snr'] })).cells[0]?.entries).toMatchObject([
      { values: { snr: 2 }, overridden: true, excluded: false },
    ])
    await store.undo()
    expect((await store.result(id, HASH))?.values.snr).toBe(1)
    await store.redo()
    expect((await store.result(id, HASH))?.values.snr).toBe(2)
  })
})

describe('usable captures', () => {
  it('are good, not set aside by a review, and of the scope', async () => {
    const [one, other] = [await testSweep(store), await testSweep(store)]
    const add = async (sweepId: number, position: number, change = {}): Promise<number> =>
      (await store.addCapture(testCapture(sweepId, position, change), null)).id
    const [kept, out, again] = [await add(one.sweepId, 0), await add(one.sweepId, 1), await add(one.sweepId, 2)]
    await add(one.sweepId, 3, { verdict: 'gapped' })
    const elsewhere = await add(other.sweepId, 0)
    for (const [captureId, decision] of [
      [kept, 'keep'],
      [out, 'exclude'],
      [again, 'retake'],
    ] as const)
      await store.addReview({ captureId, decision, reason: 'Seen.', reviewer: 'A', override: null })
    const ids = async (scope: { campaignId?: number; sweepId?: number }): Promise<number[]> =>
      (await store.usableCaptures(scope)).map(({ captureId }) => captureId)
    expect(await ids({})).toEqual([kept, elsewhere])
    expect(await ids({ sweepId: one.sweepId })).toEqual([kept])
    expect(await ids({ campaignId: other.campaignId })).toEqual([elsewhere])
    expect(await ids({ sweepId: 999 })).toEqual([])
    await store.undo()
    expect(await store.usableCaptures({ sweepId: one.sweepId })).toEqual([
      { captureId: kept, sweepId: one.sweepId, from: 0, to: 128 },
      { captureId: again, sweepId: one.sweepId, from: 0, to: 128 },
    ])
  })
})

describe('recipes', () => {
  it('holds the presets from the start and the first name of equal parameters', async () => {
    expect(await store.recipes()).toEqual(RECIPE_PRESETS.map((recipe) => ({ hash: recipeHash(recipe), recipe })))
    const renamed = { ...DEFAULT_RECIPE, name: 'Another name' }
    expect(await store.saveRecipe(renamed)).toEqual({ hash: HASH })
    const own = recipeSchema.parse({ name: 'Own', darkCode: 50 })
    const { hash } = await store.saveRecipe(own)
    const recipes = await store.recipes()
    expect(recipes).toHaveLength(RECIPE_PRESETS.length + 1)
    expect(recipes.at(-1)).toEqual({ hash, recipe: own })
  })

  it('remembers which one is in use and which was before', async () => {
    expect(await store.recipesInUse()).toEqual({ current: null, before: null })
    await store.setRecipesInUse({ current: 'b', before: 'a' })
    expect(await store.recipesInUse()).toEqual({ current: 'b', before: 'a' })
    await store.setRecipesInUse({ current: 'c', before: null })
    expect(await store.recipesInUse()).toEqual({ current: 'c', before: null })
  })
})

describe('reviews', () => {
  it('takes back and puts back in order, until another decision comes', async () => {
    const { sweepId } = await testSweep(store)
    const ids: number[] = []
    for (const position of [0, 1]) ids.push((await store.addCapture(testCapture(sweepId, position), null)).id)
    const [a = 0, b = 0] = ids
    const decide = (captureId: number, decision: 'keep' | 'exclude'): Promise<{ id: number }> =>
      store.addReview({ captureId, decision, reason: 'Seen.', reviewer: 'A', override: null })
    const standing = async (): Promise<(string | null)[]> =>
      (await store.captures(filter())).rows.map((row) => row.review)

    expect(await store.undo()).toBeNull()
    expect(await store.redo()).toBeNull()
    const first = await decide(a, 'keep')
    const second = await decide(b, 'exclude')
    const third = await decide(a, 'exclude')
    expect(await standing()).toEqual(['exclude', 'exclude'])
    expect(await store.undo()).toMatchObject({ id: third.id, undone: true })
    expect(await standing()).toEqual(['keep', 'exclude'])
    expect(await store.undo()).toMatchObject({ id: second.id })
    expect(await standing()).toEqual(['keep', null])
    expect(await store.redo()).toMatchObject({ id: second.id, undone: false })
    const fourth = await decide(b, 'keep')
    expect(await store.redo()).toBeNull()
    expect(await standing()).toEqual(['keep', 'keep'])
    expect(await store.undo()).toMatchObject({ id: fourth.id })
    expect(await store.redo()).toMatchObject({ id: fourth.id })
    expect(await store.reviews(a)).toMatchObject([
      { id: first.id, undone: false },
      { id: third.id, undone: true },
    ])
  })

  it('refuses an override without marks and a review of nothing', async () => {
    const { sweepId } = await testSweep(store)
    const { id } = await store.addCapture(testCapture(sweepId, 0), null)
    const review = { captureId: id, decision: 'override', reason: 'Seen.', reviewer: 'A', override: null } as const
    await expect(store.addReview(review)).rejects.toMatchObject({ code: 'invalid-input' })
    await expect(store.addReview({ ...review, captureId: 99, decision: 'keep' })).rejects.toMatchObject({
      code: 'not-found',
    })
  })
})

describe('events', () => {
  it('gives the newest, or those after one', async () => {
    const { sweepId } = await testSweep(store)
    const entries = []
    for (const text of ['one', 'two', 'three'])
      entries.push(await store.log({ sweepId: text === 'two' ? null : sweepId, level: 'warn', text }))
    expect(await store.events({ limit: 2 })).toEqual(entries.slice(1))
    expect(await store.events({ limit: 9, sweepId })).toEqual([entries[0], entries[2]])
    expect(await store.events({ limit: 1, afterId: entries[0]?.id ?? 0 })).toEqual([entries[1]])
  })
})
