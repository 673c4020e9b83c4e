/** Campaigns: names, where their data come from, runs, readings, and all their matrices at once. */
import { campaignPlanSchema } from '#shared/domain/campaign-plan.ts'
import { DEFAULT_PLAN, sweepPlanSchema } from '#shared/domain/plan.ts'
import { beforeEach, describe, expect, it } from 'vitest'
import type { Origin } from '../../src-shared/domain/capture.ts'
import { newReadingSchema } from '../../src-shared/domain/reading.ts'
import type { Store } from '../../src-main/core/ports.ts'
import { HASH, openTestStore, PLAN, testCapture, testReading, testResult } from './fixtures.ts'
import { storePerTest } from './per-test.ts'

const on = storePerTest()
let campaignId: number
beforeEach(async () => {
  campaignId = (await on.store.createCampaign({ name: 'Invented', display: 'Panel A', note: 'Cold.' })).id
})

const add = (origin: Origin, change: Partial<Parameters<Store['createSweep']>[0]> = {}) =>
  on.store.createSweep({ campaignId, plan: PLAN, origin, rigIdentity: '', total: 6, ...change })

describe('a campaign', () => {
  it('is renamed and described anew, keeping what is not given', async () => {
    expect(await on.store.updateCampaign({ campaignId, name: 'Second' })).toMatchObject({
      name: 'Second',
      note: 'Cold.',
    })
    expect(await on.store.updateCampaign({ campaignId, note: '' })).toMatchObject({ name: 'Second', note: '' })
    expect(await on.store.campaign({ campaignId })).toMatchObject({ name: 'Second', display: 'Panel A', note: '' })
    await expect(on.store.updateCampaign({ campaignId: 99, name: 'x' })).rejects.toMatchObject({ code: 'not-found' })
  })

  it('takes its origin from its sweeps and refuses data of another', async () => {
    expect(await on.store.campaigns()).toMatchObject([{ origin: null }])
    const first = await add('simulated')
    expect(first).toMatchObject({ origin: 'simulated', setting: 'Off', refreshHz: 60, runId: null, name: '' })
    expect(await on.store.campaigns()).toMatchObject([{ origin: 'simulated' }])
    for (const other of ['measured', 'imported'] as const)
      await expect(add(other)).rejects.toMatchObject({
        code: 'conflict',
        message: expect.stringContaining('simulated rig') as string,
        remedy: expect.stringContaining('campaign') as string,
      })
    await add('simulated')
    expect(await on.store.sweeps({ campaignId })).toHaveLength(2)
  })

  it('is open to another origin once all its sweeps are hidden, and those cannot come back then', async () => {
    const first = await add('simulated')
    await on.store.setSweepHidden(first.id, true)
    expect(await on.store.campaigns()).toMatchObject([{ origin: null }])
    await add('measured')
    await expect(on.store.setSweepHidden(first.id, false)).rejects.toMatchObject({ code: 'conflict' })
    expect(await on.store.sweep({ sweepId: first.id })).toMatchObject({ hidden: true })
  })
})

describe('what was chosen', () => {
  it('limits stay with their campaign, also after the archive was closed, until they are taken back', async () => {
    expect(await on.store.judgement({ campaignId })).toBeNull()
    const judgement = { limits: { overshoot_mean: { bound: 'at-most', value: 3.5 } }, weighting: 'trapezoid' } as const
    expect(await on.store.judge({ campaignId, judgement })).toEqual(judgement)
    await on.store.close()
    on.store = await openTestStore(on.path)
    expect(await on.store.judgement({ campaignId })).toEqual(judgement)
    expect(await on.store.judge({ campaignId, judgement: null })).toBeNull()
    expect(await on.store.judgement({ campaignId })).toBeNull()
    await expect(on.store.judge({ campaignId: 99, judgement })).rejects.toMatchObject({ code: 'not-found' })
  })

  it('plans are kept under their names, replaced by the same name, and deleted', async () => {
    const plan = campaignPlanSchema.parse({ settings: ['Off'], refreshHz: [60, 120], sweep: DEFAULT_PLAN })
    const other = campaignPlanSchema.parse({ ...plan, leaveOut: [{ setting: 'Off', refreshHz: 60 }] })
    await on.store.savePlanTemplate({ name: 'usual', plan })
    expect(await on.store.savePlanTemplate({ name: 'Quick', plan: other })).toEqual([
      { name: 'Quick', plan: other },
      { name: 'usual', plan },
    ])
    expect(await on.store.savePlanTemplate({ name: 'usual', plan: other })).toHaveLength(2)
    expect(await on.store.deletePlanTemplate({ name: 'Quick' })).toEqual([{ name: 'usual', plan: other }])
    await expect(on.store.deletePlanTemplate({ name: 'Quick' })).rejects.toMatchObject({ code: 'not-found' })
    expect(await on.store.savePlanTemplate({ name: 'Quick', plan })).toHaveLength(2)
  })
})

describe('a sweep', () => {
  it('is named, and loses its name again', async () => {
    const { id: sweepId } = await add('measured')
    expect(await on.store.renameSweep({ sweepId, name: 'After warm-up' })).toMatchObject({ name: 'After warm-up' })
    expect(await on.store.renameSweep({ sweepId, name: '' })).toMatchObject({ name: '' })
    await expect(on.store.renameSweep({ sweepId: 99, name: 'x' })).rejects.toMatchObject({ code: 'not-found' })
  })
})

describe('a run', () => {
  it('owns sweeps in the order they are worked through', async () => {
    const plan = campaignPlanSchema.parse({
      settings: ['Off', 'Fast'],
      refreshHz: [60, 120],
      sweep: sweepPlanSchema.parse(DEFAULT_PLAN),
    })
    const { id: runId } = await on.store.createRun({ campaignId, plan })
    const second = await add('measured', { run: { id: runId, position: 1 } })
    const first = await add('measured', { run: { id: runId, position: 0 } })
    expect(await on.store.runs({ campaignId })).toEqual([
      expect.objectContaining({ id: runId, plan, state: 'ready', sweepIds: [first.id, second.id] }),
    ])
    expect(await on.store.sweep({ sweepId: first.id })).toMatchObject({ runId })
    await expect(add('measured', { run: { id: runId, position: 0 } })).rejects.toThrow()
    expect(await on.store.setRunState({ runId, state: 'paused', reason: 'Lunch.' })).toMatchObject({ state: 'paused' })
    await expect(on.store.run({ runId: 99 })).rejects.toMatchObject({ code: 'not-found' })
  })

  it('keeps each of several takes, one of them standing in its place', async () => {
    const plan = campaignPlanSchema.parse({
      settings: ['Off'],
      refreshHz: [60, 120],
      sweep: sweepPlanSchema.parse(DEFAULT_PLAN),
    })
    const { id: runId } = await on.store.createRun({ campaignId, plan })
    const order = async () => (await on.store.run({ runId })).sweepIds
    const first = await add('measured', { run: { id: runId, position: 0 } })
    const other = await add('measured', { plan: { ...PLAN, refreshHz: 120 }, run: { id: runId, position: 1 } })
    const second = await on.store.retakeSweep({ sweepId: first.id, rigIdentity: 'rig' })
    const third = await on.store.retakeSweep({ sweepId: second.id, rigIdentity: 'rig' })
    expect(await order()).toEqual([third.id, other.id])
    expect(new Set([first, second, third].map((sweep) => sweep.plan.seed)).size).toBe(3)
    expect((await on.store.sweeps({ campaignId })).map(({ id }) => id)).toEqual([other.id, third.id])
    for (const id of [first.id, second.id, third.id, first.id]) {
      await on.store.restoreSweep({ sweepId: id })
      expect(await order()).toEqual([id, other.id])
    }
    const single = await add('measured')
    await expect(on.store.retakeSweep({ sweepId: single.id, rigIdentity: 'rig' })).rejects.toMatchObject({
      code: 'not-found',
    })
  })
})

describe('readings', () => {
  it('are kept as they were entered, in the order they were taken', async () => {
    const { id: sweepId } = await add('measured')
    const late = await on.store.addReading(testReading(campaignId, { at: '2030-01-02T12:00:00+01:00' }))
    const early = await on.store.addReading(
      testReading(campaignId, { sweepId, kind: 'input-lag', value: null, series: [1.5, null, 2], u: null, unit: 'ms' }),
    )
    expect(late).toMatchObject({ value: 251.5, series: null, u: 4, unit: 'cd/m²', hidden: false, sweepId: null })
    expect(await on.store.readings({ campaignId })).toEqual([early, late])
    expect(early.series).toEqual([1.5, null, 2])
    expect(await on.store.readings({ campaignId, kind: 'luminance' })).toEqual([late])
    expect(await on.store.readings({ campaignId, sweepId })).toEqual([early])
  })

  it('are hidden and restored, never deleted', async () => {
    const { id: readingId } = await on.store.addReading(testReading(campaignId))
    await on.store.hideReading({ readingId, hidden: true })
    expect(await on.store.readings({ campaignId })).toEqual([])
    expect(await on.store.readings({ campaignId, includeHidden: true })).toMatchObject([
      { id: readingId, hidden: true },
    ])
    expect(await on.store.hideReading({ readingId, hidden: false })).toMatchObject({ hidden: false, value: 251.5 })
  })

  it('belong to a campaign, and to a sweep of that campaign only', async () => {
    await expect(on.store.addReading(testReading(99))).rejects.toMatchObject({ code: 'not-found' })
    await expect(on.store.addReading(testReading(campaignId, { sweepId: 99 }))).rejects.toMatchObject({
      code: 'not-found',
    })
    await expect(on.store.hideReading({ readingId: 99, hidden: true })).rejects.toMatchObject({ code: 'not-found' })
  })

  it('are one value or a series, never both or neither', () => {
    const reading = { ...testReading(1), series: [1] }
    expect(newReadingSchema.safeParse(reading).success).toBe(false)
    expect(newReadingSchema.safeParse({ ...reading, value: null }).success).toBe(true)
    expect(newReadingSchema.safeParse({ ...reading, value: null, series: null }).success).toBe(false)
  })
})

describe('all matrices of a campaign', () => {
  it('come in one answer, the same as each alone, without hidden sweeps', async () => {
    const measures = ['snr', 'in_window'] as const
    const ids: number[] = []
    for (const snr of [1, 2, 3]) {
      const { id } = await add('measured')
      await on.store.addCapture(testCapture(id, 0), testResult({ snr }))
      ids.push(id)
    }
    await on.store.setSweepHidden(ids[1] as number, true)
    const all = await on.store.campaignMatrices({ campaignId, recipeHash: HASH, measures })
    expect(all.campaign).toMatchObject({ id: campaignId, origin: 'measured' })
    expect(all.sweeps.map(({ sweep }) => sweep.id)).toEqual([ids[0], ids[2]])
    for (const { sweep, matrix } of all.sweeps)
      expect(matrix).toEqual(await on.store.matrix({ sweepId: sweep.id, recipeHash: HASH, measures }))
    await expect(on.store.campaignMatrices({ campaignId: 99, recipeHash: HASH, measures })).rejects.toMatchObject({
      code: 'not-found',
    })
  })
})
