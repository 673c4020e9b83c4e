import { describe, expect, it } from 'vitest'
import { DEFAULT_RECIPE, RECIPE_PRESETS, recipeHash, recipeSchema } from '../../src-shared/domain/recipe.ts'
import { UNDECIDED } from '../../src-shared/domain/result.ts'
import {
  filter,
  HASH,
  openTestStore,
  PLAN,
  testCapture,
  testFlag,
  testResult,
  testSweep,
  testTrace,
} from './fixtures.ts'
import { storePerTest } from './per-test.ts'

const on = storePerTest('deeper/archive.slewlight')

describe('campaigns and sweeps', () => {
  it('gives back what was put in, also after closing', async () => {
    const { campaignId, sweepId } = await testSweep(on.store)
    const ladder = {
      steps: [{ level: 0, meanV: 0.1, sdV: 0.001, peakToPeakV: 0.006 }],
      darkV: null,
      takenAt: '2030-01-01T00:00:00.000Z',
    }
    await on.store.setLadder(sweepId, ladder)
    const paused = await on.store.setSweepState(sweepId, 'paused', 'The cable was pulled.')
    expect(paused).toMatchObject({ campaignId, plan: PLAN, state: 'paused', reason: 'The cable was pulled.', ladder })
    await on.store.close()
    on.store = await openTestStore(on.path)
    expect(await on.store.sweep({ sweepId })).toEqual(paused)
    expect(await on.store.sweeps({ campaignId })).toEqual([paused])
    expect(await on.store.sweeps({ campaignId: campaignId + 1 })).toEqual([])
    expect(await on.store.campaigns()).toMatchObject([{ id: campaignId, name: 'Invented' }])
  })

  it('refuses what is not there', async () => {
    await expect(on.store.sweep({ sweepId: 7 })).rejects.toMatchObject({ code: 'not-found' })
    await expect(on.store.setSweepState(7, 'paused', '')).rejects.toMatchObject({ code: 'not-found' })
    await expect(on.store.capture(7)).rejects.toMatchObject({ code: 'not-found' })
    await expect(on.store.trace(7)).rejects.toMatchObject({ code: 'not-found' })
    await expect(on.store.result(7, HASH)).rejects.toMatchObject({ code: 'not-found' })
    await expect(on.store.matrix({ sweepId: 7, recipeHash: HASH, measures: ['arrival_s'] })).rejects.toMatchObject({
      code: 'not-found',
    })
    await expect(on.store.addCapture(testCapture(7, 0), null)).rejects.toMatchObject({ code: 'not-found' })
    const campaignless = { campaignId: 7, plan: PLAN, origin: 'simulated', rigIdentity: '', total: 1 } as const
    await expect(on.store.createSweep(campaignless)).rejects.toMatchObject({ code: 'not-found' })
  })

  it('counts done and missing positions', async () => {
    const { sweepId } = await testSweep(on.store)
    await on.store.addCapture(testCapture(sweepId, 0), null)
    for (const attempt of [1, 2, 3])
      await on.store.addCapture(testCapture(sweepId, 1, { attempt, verdict: 'dropped-frame' }), null)
    await on.store.addCapture(testCapture(sweepId, 2, { verdict: 'gapped' }), null)
    expect(await on.store.sweep({ sweepId })).toMatchObject({ total: 10, done: 1, missing: 1 })
    expect(await on.store.progress(sweepId)).toEqual([
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
      const { sweepId } = await testSweep(on.store)
      const trace = { ...testTrace(1, 5000, format), offsetV: -0.25 }
      const copy = trace.samples.slice()
      const capture = testCapture(sweepId, 0, { trace })
      const info = await on.store.addCapture(capture, null)
      expect(trace.samples).toEqual(copy)
      const { trace: _trace, ...rest } = capture
      expect(info).toEqual({ id: info.id, ...rest, sampleCount: 5000, sampleRateHz: 50_000 })
      expect(await on.store.capture(info.id)).toEqual(info)
      expect(await on.store.trace(info.id)).toEqual(trace)
      expect(await on.store.inputs([99, info.id])).toEqual([
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

  it('are read for measuring in the order asked', async () => {
    const { sweepId } = await testSweep(on.store)
    const ids: number[] = []
    // oxlint-disable-next-line no-await-in-loop
    for (let at = 0; at < 5; at++) ids.push((await on.store.addCapture(testCapture(sweepId, at), null)).id)
    const asked = [2, 0, 4, 3, 1].map((at) => ids[at] ?? 0)
    expect((await on.store.inputs(asked)).map(({ captureId }) => captureId)).toEqual(asked)
  })

  it('counts the captures of a sweep by verdict, attempts included', async () => {
    const { sweepId } = await testSweep(on.store)
    await on.store.addCapture(testCapture(sweepId, 0, { verdict: 'dropped-frame' }), testResult())
    await on.store.addCapture(testCapture(sweepId, 0, { attempt: 2 }), testResult())
    await on.store.addCapture(testCapture(sweepId, 1), testResult())
    expect(await on.store.verdicts(sweepId)).toEqual([
      { verdict: 'good', captures: 2 },
      { verdict: 'dropped-frame', captures: 1 },
    ])
    expect(await on.store.verdicts(99)).toEqual([])
  })

  it('stores a view without the rest of its buffer', async () => {
    const { sweepId } = await testSweep(on.store)
    const whole = testTrace(1, 5000)
    const samples = whole.samples.subarray(1000, 1100)
    const { id } = await on.store.addCapture(testCapture(sweepId, 0, { trace: { ...whole, samples } }), null)
    expect((await on.store.trace(id)).samples).toEqual(samples.slice())
  })

  it('refuses a second good capture at a position and a repeated attempt', async () => {
    const { sweepId } = await testSweep(on.store)
    await on.store.addCapture(testCapture(sweepId, 0, { verdict: 'gapped' }), null)
    await expect(on.store.addCapture(testCapture(sweepId, 0, { verdict: 'gapped' }), null)).rejects.toMatchObject({
      code: 'conflict',
    })
    await on.store.addCapture(testCapture(sweepId, 0, { attempt: 2 }), null)
    for (const attempt of [2, 3])
      await expect(on.store.addCapture(testCapture(sweepId, 0, { attempt }), null)).rejects.toMatchObject({
        code: 'conflict',
      })
    expect((await on.store.captures(filter())).total).toBe(2)
  })

  it('takes a new good capture where the old one was sent back, and counts only the newest', async () => {
    const { sweepId } = await testSweep(on.store)
    const old = await on.store.addCapture(testCapture(sweepId, 0), testResult())
    const retake = {
      captureId: old.id,
      decision: 'retake',
      reason: 'A hand passed.',
      reviewer: 'A',
      override: null,
    } as const
    await on.store.addReview(retake)
    expect(await on.store.progress(sweepId)).toEqual([{ position: 0, attempts: 0, good: false }])
    expect(await on.store.sweep({ sweepId })).toMatchObject({ done: 0 })
    expect((await on.store.matrix({ sweepId, recipeHash: HASH, measures: ['snr'] })).cells[0]?.entries).toMatchObject([
      { excluded: true },
    ])
    const anew = await on.store.addCapture(testCapture(sweepId, 0), testResult())
    expect(await on.store.progress(sweepId)).toEqual([{ position: 0, attempts: 1, good: true }])
    expect(await on.store.sweep({ sweepId })).toMatchObject({ done: 1 })
    expect((await on.store.matrix({ sweepId, recipeHash: HASH, measures: ['snr'] })).cells[0]?.entries).toMatchObject([
      { captureId: anew.id, excluded: false },
    ])
    await expect(on.store.addCapture(testCapture(sweepId, 0, { attempt: 2 }), null)).rejects.toMatchObject({
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
    const { sweepId } = await testSweep(on.store)
    await expect(on.store.addCapture(testCapture(sweepId, 0, change), null)).rejects.toMatchObject({
      code: 'invalid-input',
    })
    expect((await on.store.info()).captures).toBe(0)
  })
})

describe('results', () => {
  it('gives back a result whole, with its flags', async () => {
    const { sweepId } = await testSweep(on.store)
    const result = testResult({ in_window: 1 }, [testFlag('hum'), testFlag('clipped', { value: null, span: null })])
    const { id } = await on.store.addCapture(testCapture(sweepId, 0), result)
    expect(await on.store.result(id, HASH)).toEqual(result)
    expect(await on.store.result(id, recipeHash(RECIPE_PRESETS[1] ?? DEFAULT_RECIPE))).toBeNull()
  })

  it('keeps the first result of a capture, recipe and algorithm', async () => {
    const { sweepId } = await testSweep(on.store)
    const { id } = await on.store.addCapture(testCapture(sweepId, 0), testResult({ snr: 1 }))
    await on.store.addResults([{ captureId: id, result: testResult({ snr: 2 }, [testFlag('hum')]) }])
    expect(await on.store.result(id, HASH)).toEqual(testResult({ snr: 1 }))
  })

  it('shows only results of the measuring code in use', async () => {
    const { sweepId } = await testSweep(on.store)
    const { id } = await on.store.addCapture(testCapture(sweepId, 0), testResult({ snr: 1 }))
    await on.store.close()
    on.store = await openTestStore(on.path, undefined, 'later')
    expect(await on.store.result(id, HASH)).toBeNull()
    expect(await on.store.unmeasured(HASH, {})).toEqual([id])
    await on.store.addResults([{ captureId: id, result: testResult({ snr: 2 }, [], HASH, 'later') }])
    expect((await on.store.result(id, HASH))?.values.snr).toBe(2)
    await on.store.close()
    on.store = await openTestStore(on.path)
    expect((await on.store.result(id, HASH))?.values.snr).toBe(1)
  })

  it('refuses results of an unknown recipe or capture and values that are not numbers, whole batches at a time', async () => {
    const { sweepId } = await testSweep(on.store)
    const { id } = await on.store.addCapture(testCapture(sweepId, 0), null)
    const good = { captureId: id, result: testResult() }
    const unknown = { captureId: id, result: testResult({}, [], '0123456789abcdef') }
    await expect(on.store.addResults([good, unknown])).rejects.toMatchObject({ code: 'not-found' })
    await expect(on.store.addResults([good, { captureId: 99, result: testResult() }])).rejects.toMatchObject({
      code: 'not-found',
    })
    await expect(
      on.store.addResults([good, { captureId: id, result: testResult({ snr: Infinity }) }]),
    ).rejects.toMatchObject({ code: 'invalid-input' })
    await expect(on.store.addResults([{ ...good, overrideId: 5 }])).rejects.toMatchObject({ code: 'not-found' })
    expect(await on.store.result(id, HASH)).toBeNull()
  })

  it('lists unmeasured good captures by scope', async () => {
    const a = await testSweep(on.store)
    const b = await testSweep(on.store)
    const one = await on.store.addCapture(testCapture(a.sweepId, 0), null)
    const two = await on.store.addCapture(testCapture(b.sweepId, 0), null)
    await on.store.addCapture(testCapture(b.sweepId, 1, { verdict: 'no-edge' }), null)
    await on.store.addCapture(testCapture(b.sweepId, 2), testResult())
    expect(await on.store.unmeasured(HASH, {})).toEqual([one.id, two.id])
    expect(await on.store.unmeasured(HASH, { sweepId: b.sweepId })).toEqual([two.id])
    expect(await on.store.unmeasured(HASH, { campaignId: a.campaignId })).toEqual([one.id])
  })

  it('replaces group flags and counts them', async () => {
    const { sweepId } = await testSweep(on.store)
    const own = testFlag('hum')
    const { id } = await on.store.addCapture(testCapture(sweepId, 0), testResult({}, [own]))
    const bare = await on.store.addCapture(testCapture(sweepId, 1), null)
    const differs = testFlag('differs-from-repeats')
    await on.store.setGroupFlags(sweepId, HASH, [
      { captureId: id, flag: differs },
      { captureId: id, flag: testFlag('ripple-differs') },
      { captureId: bare.id, flag: differs },
    ])
    expect(
      (await on.store.matrix({ sweepId, recipeHash: HASH, measures: ['snr'] })).cells[0]?.entries[0]?.flagCount,
    ).toBe(3)
    await on.store.setGroupFlags(sweepId, HASH, [{ captureId: id, flag: differs }])
    expect((await on.store.result(id, HASH))?.flags).toEqual([own, differs])
    expect((await on.store.captures(filter({ flag: 'ripple-differs' }))).total).toBe(0)
    await on.store.setGroupFlags(sweepId, HASH, [])
    expect((await on.store.captures(filter())).rows[0]?.flags).toEqual(['hum'])
  })
})

describe('matrix', () => {
  it('groups by cell, counts what is unmeasured and marks what is excluded', async () => {
    const { sweepId } = await testSweep(on.store)
    const a = await on.store.addCapture(testCapture(sweepId, 0), testResult({ snr: 1, arrival_s: null }))
    const b = await on.store.addCapture(
      testCapture(sweepId, 1, { repeat: 2 }),
      testResult({ snr: 2 }, [testFlag('hum')]),
    )
    const c = await on.store.addCapture(testCapture(sweepId, 2, { from: 128, to: 0 }), testResult({ snr: 3 }))
    await on.store.addCapture(testCapture(sweepId, 3, { from: 255, to: 0 }), null)
    await on.store.addCapture(testCapture(sweepId, 4, { verdict: 'gapped' }), testResult({ snr: 9 }))
    await on.store.addReview({ captureId: a.id, decision: 'exclude', reason: 'Lamp.', reviewer: 'A', override: null })
    const entry = {
      overridden: false,
      excluded: false,
      flagCount: 0,
      repeat: 1,
      uncertainties: {},
      undecided: false,
    }
    expect(await on.store.matrix({ sweepId, recipeHash: HASH, measures: ['snr', 'arrival_s'] })).toEqual({
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
    const { sweepId } = await testSweep(on.store)
    const undecided = testResult({ in_window: null })
    const decided = testResult({ in_window: null })
    await on.store.addCapture(testCapture(sweepId, 0), { ...undecided, reasons: { in_window: UNDECIDED } })
    await on.store.addCapture(testCapture(sweepId, 1), { ...decided, reasons: { in_window: 'It never settles.' } })
    const { cells } = await on.store.matrix({
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
    const { sweepId } = await testSweep(on.store)
    const { id } = await on.store.addCapture(testCapture(sweepId, 0), testResult({ snr: 1 }))
    const marks = { crossLowS: 0.0052 }
    const review = await on.store.addReview({
      captureId: id,
      decision: 'override',
      reason: 'Mark on a spike.',
      reviewer: 'A',
      override: marks,
    })
    expect(await on.store.unmeasured(HASH, {})).toEqual([id])
    expect(await on.store.inputs([id])).toMatchObject([{ override: marks, overrideId: review.id }])
    await on.store.addResults([{ captureId: id, result: testResult({ snr: 2 }), overrideId: review.id }])
    expect(await on.store.unmeasured(HASH, {})).toEqual([])
    expect((await on.store.result(id, HASH))?.values.snr).toBe(2)
    expect((await on.store.matrix({ sweepId, recipeHash: HASH, measures: ['snr'] })).cells[0]?.entries).toMatchObject([
      { values: { snr: 2 }, overridden: true, excluded: false },
    ])
    await on.store.undo()
    expect((await on.store.result(id, HASH))?.values.snr).toBe(1)
    await on.store.redo()
    expect((await on.store.result(id, HASH))?.values.snr).toBe(2)
  })
})

describe('usable captures', () => {
  it('are good, not set aside by a review, and of the scope', async () => {
    const [one, other] = [await testSweep(on.store), await testSweep(on.store)]
    const add = async (sweepId: number, position: number, change = {}): Promise<number> =>
      (await on.store.addCapture(testCapture(sweepId, position, change), null)).id
    const [kept, out, again] = [await add(one.sweepId, 0), await add(one.sweepId, 1), await add(one.sweepId, 2)]
    await add(one.sweepId, 3, { verdict: 'gapped' })
    const elsewhere = await add(other.sweepId, 0)
    for (const [captureId, decision] of [
      [kept, 'keep'],
      [out, 'exclude'],
      [again, 'retake'],
    ] as const)
      await on.store.addReview({ captureId, decision, reason: 'Seen.', reviewer: 'A', override: null })
    const ids = async (scope: { campaignId?: number; sweepId?: number }): Promise<number[]> =>
      (await on.store.usableCaptures(scope)).map(({ captureId }) => captureId)
    expect(await ids({})).toEqual([kept, elsewhere])
    expect(await ids({ sweepId: one.sweepId })).toEqual([kept])
    expect(await ids({ campaignId: other.campaignId })).toEqual([elsewhere])
    expect(await ids({ sweepId: 999 })).toEqual([])
    await on.store.undo()
    expect(await on.store.usableCaptures({ sweepId: one.sweepId })).toEqual([
      { captureId: kept, sweepId: one.sweepId, from: 0, to: 128 },
      { captureId: again, sweepId: one.sweepId, from: 0, to: 128 },
    ])
  })
})

describe('recipes', () => {
  it('holds the presets from the start and the first name of equal parameters', async () => {
    expect(await on.store.recipes()).toEqual(RECIPE_PRESETS.map((recipe) => ({ hash: recipeHash(recipe), recipe })))
    const renamed = { ...DEFAULT_RECIPE, name: 'Another name' }
    expect(await on.store.saveRecipe(renamed)).toEqual({ hash: HASH })
    const own = recipeSchema.parse({ name: 'Own', darkCode: 50 })
    const { hash } = await on.store.saveRecipe(own)
    const recipes = await on.store.recipes()
    expect(recipes).toHaveLength(RECIPE_PRESETS.length + 1)
    expect(recipes.at(-1)).toEqual({ hash, recipe: own })
  })

  it('remembers which one is in use and which was before', async () => {
    expect(await on.store.recipesInUse()).toEqual({ current: null, before: null })
    await on.store.setRecipesInUse({ current: 'b', before: 'a' })
    expect(await on.store.recipesInUse()).toEqual({ current: 'b', before: 'a' })
    await on.store.setRecipesInUse({ current: 'c', before: null })
    expect(await on.store.recipesInUse()).toEqual({ current: 'c', before: null })
  })
})

describe('reviews', () => {
  it('takes back and puts back in order, until another decision comes', async () => {
    const { sweepId } = await testSweep(on.store)
    const ids: number[] = []
    for (const position of [0, 1]) ids.push((await on.store.addCapture(testCapture(sweepId, position), null)).id)
    const [a = 0, b = 0] = ids
    const decide = (captureId: number, decision: 'keep' | 'exclude'): Promise<{ id: number }> =>
      on.store.addReview({ captureId, decision, reason: 'Seen.', reviewer: 'A', override: null })
    const standing = async (): Promise<(string | null)[]> =>
      (await on.store.captures(filter())).rows.map((row) => row.review)

    expect(await on.store.undo()).toBeNull()
    expect(await on.store.redo()).toBeNull()
    const first = await decide(a, 'keep')
    const second = await decide(b, 'exclude')
    const third = await decide(a, 'exclude')
    expect(await standing()).toEqual(['exclude', 'exclude'])
    expect(await on.store.undo()).toMatchObject({ id: third.id, undone: true })
    expect(await standing()).toEqual(['keep', 'exclude'])
    expect(await on.store.undo()).toMatchObject({ id: second.id })
    expect(await standing()).toEqual(['keep', null])
    expect(await on.store.redo()).toMatchObject({ id: second.id, undone: false })
    const fourth = await decide(b, 'keep')
    expect(await on.store.redo()).toBeNull()
    expect(await standing()).toEqual(['keep', 'keep'])
    expect(await on.store.undo()).toMatchObject({ id: fourth.id })
    expect(await on.store.redo()).toMatchObject({ id: fourth.id })
    expect(await on.store.reviews(a)).toMatchObject([
      { id: first.id, undone: false },
      { id: third.id, undone: true },
    ])
  })

  it('refuses an override without marks and a review of nothing', async () => {
    const { sweepId } = await testSweep(on.store)
    const { id } = await on.store.addCapture(testCapture(sweepId, 0), null)
    const review = { captureId: id, decision: 'override', reason: 'Seen.', reviewer: 'A', override: null } as const
    await expect(on.store.addReview(review)).rejects.toMatchObject({ code: 'invalid-input' })
    await expect(on.store.addReview({ ...review, captureId: 99, decision: 'keep' })).rejects.toMatchObject({
      code: 'not-found',
    })
  })
})

describe('events', () => {
  it('gives the newest, or those after one', async () => {
    const { sweepId } = await testSweep(on.store)
    const entries = []
    for (const text of ['one', 'two', 'three'])
      entries.push(await on.store.log({ sweepId: text === 'two' ? null : sweepId, level: 'warn', text }))
    expect(await on.store.events({ limit: 2 })).toEqual(entries.slice(1))
    expect(await on.store.events({ limit: 9, sweepId })).toEqual([entries[0], entries[2]])
    expect(await on.store.events({ limit: 1, afterId: entries[0]?.id ?? 0 })).toEqual([entries[1]])
  })
})
