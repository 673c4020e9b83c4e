/** One decision on many captures, and flags accepted for a sweep. */
import { beforeEach, describe, expect, it } from 'vitest'
import type { NewReviews } from '../../src-shared/domain/desk.ts'
import { filter, HASH, testCapture, testFlag, testResult, testSweep } from './fixtures.ts'
import { storePerTest } from './per-test.ts'

const on = storePerTest()
let sweepId: number
beforeEach(async () => {
  sweepId = (await testSweep(on.store)).sweepId
})

const take = async (
  position: number,
  change: Parameters<typeof testCapture>[2] = {},
  flags: Parameters<typeof testFlag>[0][] = [],
): Promise<number> =>
  (
    await on.store.addCapture(
      testCapture(sweepId, position, change),
      testResult(
        {},
        flags.map((id) => testFlag(id)),
      ),
    )
  ).id
const many = (scope: Partial<NewReviews['scope']>, decision: NewReviews['decision'] = 'exclude') =>
  on.store.addReviews({
    scope: { recipeHash: HASH, sweepId, ...scope },
    decision,
    reason: 'Lamp was off.',
    reviewer: 'A',
  })
const decisions = async (): Promise<readonly (string | null)[]> =>
  (await on.store.captures({ ...filter(), sweepId })).rows.map(({ review }) => review)
const doubtful = async (): Promise<readonly number[]> =>
  (await on.store.captures({ ...filter(), doubtful: true })).rows.map(({ info }) => info.id)

describe('one decision on many captures', () => {
  it('is about those of its scope that nobody has reviewed, and is undone and redone in one step', async () => {
    const ids = [await take(0), await take(1), await take(2, { from: 128, to: 0 }), await take(3)]
    const [a, b, other, kept] = ids as [number, number, number, number]
    await on.store.addReview({ captureId: kept, decision: 'keep', reason: 'Fine.', reviewer: 'B', override: null })
    expect(await many({ from: 0, to: 128 })).toEqual({ captureIds: [a, b] })
    expect(await decisions()).toEqual(['exclude', 'exclude', null, 'keep'])
    expect((await on.store.steps()).undo).toMatchObject({ words: 'exclude 2 captures', companions: [a, b] })
    expect(await on.store.undo()).toMatchObject({ words: 'exclude 2 captures', companions: [a, b], undone: true })
    expect(await decisions()).toEqual([null, null, null, 'keep'])
    expect(await on.store.redo()).toMatchObject({ words: 'exclude 2 captures', undone: false })
    expect(await decisions()).toEqual(['exclude', 'exclude', null, 'keep'])
    // The step before is the single one again.
    await on.store.undo()
    expect((await on.store.steps()).undo).toMatchObject({ captureId: kept, companions: [] })
    expect(await many({ from: 128, to: 0 }, 'retake')).toEqual({ captureIds: [other] })
    expect(await on.store.redo()).toBeNull()
  })

  it('takes captures by a flag, leaves out bad ones and those replaced, and refuses an empty scope', async () => {
    const flagged = await take(0, {}, ['hum'])
    await take(1, { verdict: 'gapped' }, ['hum'])
    await take(2)
    expect(await many({ flag: 'hum' }, 'keep')).toEqual({ captureIds: [flagged] })
    await expect(many({ flag: 'hum' })).rejects.toMatchObject({ code: 'conflict' })
  })
})

describe('a flag accepted for a sweep', () => {
  const hum = () => ({ sweepId, flag: 'hum' as const, reason: 'Fan beside the rig.', reviewer: 'A' })

  it('makes no capture doubtful any more, but other flags do, and it can be withdrawn', async () => {
    const [one, both] = [await take(0, {}, ['hum']), await take(1, {}, ['hum', 'clipped'])]
    await take(2)
    expect(await doubtful()).toEqual([one, both])
    expect(await on.store.acceptFlag(hum())).toMatchObject({ flag: 'hum', reason: 'Fan beside the rig.' })
    expect(await doubtful()).toEqual([both])
    expect(await on.store.acceptedFlags()).toMatchObject([{ sweepId, flag: 'hum', reviewer: 'A' }])
    // The flags themselves stay on record.
    expect((await on.store.captures({ ...filter(), flag: 'hum' })).total).toBe(2)
    await on.store.withdrawFlag({ sweepId, flag: 'hum' })
    expect(await doubtful()).toEqual([one, both])
    expect(await on.store.acceptedFlags()).toEqual([])
  })

  it('is accepted once with its newest reason, and only there', async () => {
    const id = await take(0, {}, ['hum'])
    const elsewhere = (await testSweep(on.store)).sweepId
    await on.store.acceptFlag({ ...hum(), sweepId: elsewhere })
    expect(await doubtful()).toEqual([id])
    await on.store.acceptFlag(hum())
    await on.store.acceptFlag({ ...hum(), reason: 'Mains filter missing.' })
    const own = (await on.store.acceptedFlags()).filter((flag) => flag.sweepId === sweepId)
    expect(own).toMatchObject([{ reason: 'Mains filter missing.' }])
    await expect(on.store.acceptFlag({ ...hum(), sweepId: 99 })).rejects.toMatchObject({ code: 'not-found' })
  })
})
