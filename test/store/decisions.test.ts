/** Reviews and notes in one order, the retake queue, and what the desk reads of single captures. */
import { beforeEach, describe, expect, it } from 'vitest'
import type { ReviewDecision } from '../../src-shared/domain/views.ts'
import { filter, HASH, openTestStore, testCapture, testFlag, testResult, testSweep } from './fixtures.ts'
import { storePerTest } from './per-test.ts'

const on = storePerTest()
let sweepId: number
beforeEach(async () => {
  sweepId = (await testSweep(on.store)).sweepId
})

const take = async (position: number, change: Parameters<typeof testCapture>[2] = {}): Promise<number> =>
  (await on.store.addCapture(testCapture(sweepId, position, change), testResult())).id
const decide = (captureId: number, decision: ReviewDecision, reason = 'Seen.'): Promise<{ id: number }> =>
  on.store.addReview({
    captureId,
    decision,
    reason,
    reviewer: 'A',
    override: decision === 'override' ? { crossLowS: 0.01 } : null,
  })
const say = (captureId: number, text: string): Promise<{ id: number }> =>
  on.store.addNote({ captureId, text, reviewer: 'B' })

describe('notes', () => {
  it('share one order of undo and redo with reviews', async () => {
    const [a, b] = [await take(0), await take(1)]
    const first = await decide(a, 'exclude')
    const second = await say(a, 'Hum?')
    const third = await decide(b, 'keep')
    const fourth = await say(a, 'Hum, from the fan.')
    expect([first.id, second.id, third.id, fourth.id]).toEqual([1, 2, 3, 4])
    expect(await on.store.steps()).toMatchObject({ undo: { id: 4, kind: 'note' }, redo: null })
    const note = async (): Promise<string | undefined> =>
      (await on.store.detail({ captureId: a, recipeHash: HASH })).note?.text
    expect(await note()).toBe('Hum, from the fan.')
    expect(await on.store.undo()).toMatchObject({
      id: 4,
      undone: true,
      words: `note on capture ${a} (0 → 128, repeat 1)`,
      text: 'Hum, from the fan.',
    })
    expect(await note()).toBe('Hum?')
    expect(await on.store.undo()).toMatchObject({ id: 3, words: `keep capture ${b} (0 → 128, repeat 1)` })
    expect(await on.store.undo()).toMatchObject({ id: 2, kind: 'note', review: null, note: { text: 'Hum?' } })
    expect(await note()).toBeUndefined()
    expect(await on.store.steps()).toMatchObject({ undo: { id: 1 }, redo: { id: 2 } })
    expect(await on.store.redo()).toMatchObject({ id: 2, undone: false })
    expect(await on.store.redo()).toMatchObject({ id: 3 })
    // A new step of either kind ends what could be redone.
    await say(b, 'Fine.')
    expect(await on.store.redo()).toBeNull()
    expect(await on.store.history({ limit: 9 })).toMatchObject([
      { id: 5, kind: 'note', captureId: b, undone: false, reviewer: 'B' },
      { id: 4, kind: 'note', captureId: a, undone: true },
      { id: 3, kind: 'review', captureId: b, undone: false, review: { decision: 'keep' } },
      { id: 2, kind: 'note', undone: false },
      { id: 1, kind: 'review', captureId: a, undone: false, reviewer: 'A' },
    ])
    expect((await on.store.history({ limit: 2 })).map((entry) => entry.id)).toEqual([5, 4])
    expect((await on.store.history({ captureId: b, limit: 9 })).map((entry) => entry.id)).toEqual([5, 3])
    await on.store.close()
    on.store = await openTestStore(on.path)
    expect((await on.store.steps()).undo).toMatchObject({ id: 5 })
    expect(await decide(a, 'keep')).toMatchObject({ id: 6 })
  })

  it('are taken away by an empty one, and come back by undoing it', async () => {
    const id = await take(0)
    const noted = async (): Promise<boolean | undefined> => (await on.store.captures(filter())).rows[0]?.noted
    expect(await noted()).toBe(false)
    await say(id, 'Once.')
    expect(await noted()).toBe(true)
    await say(id, '')
    expect(await noted()).toBe(false)
    expect((await on.store.captures(filter({ noted: true }))).total).toBe(0)
    expect((await on.store.undo())?.words).toBe(`remove the note from capture ${id} (0 → 128, repeat 1)`)
    expect((await on.store.captures(filter({ noted: true }))).total).toBe(1)
    await expect(say(99, 'Nothing.')).rejects.toMatchObject({ code: 'not-found' })
  })
})

describe('retakes', () => {
  it('are what was sent back and not replaced; only what counts can be sent back', async () => {
    const [a, b] = [await take(0), await take(1)]
    const bad = await take(2, { verdict: 'gapped' })
    await expect(decide(bad, 'retake')).rejects.toMatchObject({ code: 'conflict' })
    await decide(b, 'retake', 'Lamp.')
    await decide(a, 'retake', 'Cable.')
    expect(await on.store.retakes({})).toMatchObject([
      { captureId: a, position: 0, reason: 'Cable.', attempts: 0, obstacle: '', setting: 'Off', refreshHz: 60 },
      { captureId: b, position: 1, reason: 'Lamp.' },
    ])
    expect(await on.store.retakes({ sweepId })).toHaveLength(2)
    await expect(on.store.retakes({ sweepId: 99 })).rejects.toMatchObject({ code: 'not-found' })
    await take(0, { attempt: 1, verdict: 'dropped-frame' })
    expect(await on.store.retakes({})).toMatchObject([{ captureId: a, attempts: 1 }, { captureId: b }])
    const newer = await take(0, { attempt: 2 })
    expect(await on.store.retakes({})).toMatchObject([{ captureId: b }])
    expect(await on.store.detail({ captureId: a, recipeHash: HASH })).toMatchObject({ supersededBy: newer })
    expect(await on.store.detail({ captureId: newer, recipeHash: HASH })).toMatchObject({ supersededBy: null })
    await expect(decide(a, 'retake')).rejects.toMatchObject({ code: 'conflict' })
    // The newer one can be sent back in its turn.
    await decide(newer, 'retake')
    expect(await on.store.retakes({})).toMatchObject([{ captureId: newer }, { captureId: b }])
    const rows = (await on.store.captures(filter())).rows.map((row) => [row.info.id, row.superseded])
    expect(rows.filter(([, superseded]) => superseded).map(([id]) => id)).toEqual([a])
  })

  it('given up and then taken back leave nothing missing', async () => {
    const a = await take(0)
    await decide(a, 'retake')
    for (const attempt of [1, 2, 3]) await take(0, { attempt, verdict: 'no-edge' })
    expect(await on.store.sweep({ sweepId })).toMatchObject({ done: 0, missing: 1 })
    await on.store.undo()
    expect(await on.store.sweep({ sweepId })).toMatchObject({ done: 1, missing: 0 })
    await on.store.redo()
    expect(await on.store.sweep({ sweepId })).toMatchObject({ done: 0, missing: 1 })
  })

  it('say that an imported sweep has no rig', async () => {
    const { plan } = await on.store.sweep({ sweepId })
    const { id: campaignId } = await on.store.createCampaign({ name: 'Files', display: '', note: '' })
    const imported = await on.store.createSweep({ campaignId, plan, origin: 'imported', rigIdentity: '', total: 1 })
    const { id } = await on.store.addCapture(testCapture(imported.id, 0), null)
    await decide(id, 'retake')
    expect(await on.store.retakes({})).toMatchObject([
      { captureId: id, obstacle: expect.stringMatching(/no rig/) as string },
    ])
  })

  it('leave replaced captures out of the doubtful ones', async () => {
    const flagged = testResult({}, [testFlag('hum')])
    const { id: a } = await on.store.addCapture(testCapture(sweepId, 0), flagged)
    const doubtful = async (): Promise<number[]> =>
      (await on.store.captures(filter({ doubtful: true }))).rows.map((row) => row.info.id)
    expect(await doubtful()).toEqual([a])
    await decide(a, 'retake')
    const { id: b } = await on.store.addCapture(testCapture(sweepId, 0), flagged)
    expect(await doubtful()).toEqual([b])
    await on.store.undo()
    expect(await doubtful()).toEqual([b])
  })
})

describe('one capture', () => {
  it('is shown with the result that counts and the machine’s own beside it', async () => {
    const id = await take(0)
    const plain = await on.store.detail({ captureId: id, recipeHash: HASH })
    expect(plain).toMatchObject({ overridden: false, ownResult: null, note: null, reviews: [], supersededBy: null })
    expect(plain.result).toEqual(await on.store.result(id, HASH))
    expect((await on.store.inputs([id]))[0]?.override).toBeNull()
    const review = await decide(id, 'override')
    expect((await on.store.inputs([id]))[0]?.override).toEqual({ crossLowS: 0.01 })
    // Not measured with the marks yet.
    expect(await on.store.detail({ captureId: id, recipeHash: HASH })).toMatchObject({
      result: null,
      overridden: false,
    })
    await on.store.addResults([{ captureId: id, result: testResult({ snr: 99 }), overrideId: review.id }])
    const moved = await on.store.detail({ captureId: id, recipeHash: HASH })
    expect(moved).toMatchObject({ overridden: true, result: { values: { snr: 99 } } })
    expect(moved.ownResult).toEqual(plain.result)
    expect((await on.store.captures(filter())).rows[0]).toMatchObject({ overridden: true, values: { snr: 99 } })
    await on.store.undo()
    expect(await on.store.detail({ captureId: id, recipeHash: HASH })).toMatchObject({
      overridden: false,
      ownResult: null,
      result: plain.result,
    })
    expect(await on.store.measuredRecipes(sweepId)).toEqual([HASH])
    await expect(on.store.detail({ captureId: 99, recipeHash: HASH })).rejects.toMatchObject({ code: 'not-found' })
    const empty = { captureId: id, decision: 'override', reason: 'x', reviewer: 'A', override: {} } as const
    await expect(on.store.addReview(empty)).rejects.toMatchObject({ code: 'invalid-input' })
  })

  it('knows its repeats, and why some do not count', async () => {
    const [a, b, c] = [await take(0), await take(1, { repeat: 2 }), await take(2, { repeat: 3 })]
    await take(3, { from: 128, to: 0 })
    await take(4, { repeat: 4, verdict: 'gapped' })
    await decide(b, 'exclude')
    await decide(c, 'retake')
    const again = await take(2, { repeat: 3, attempt: 1 })
    expect(await on.store.repeats(a)).toEqual([
      { captureId: a, repeat: 1, counts: true, reason: '' },
      { captureId: b, repeat: 2, counts: false, reason: 'excluded' },
      { captureId: c, repeat: 3, counts: false, reason: 'taken again' },
      { captureId: again, repeat: 3, counts: true, reason: '' },
    ])
  })
})
