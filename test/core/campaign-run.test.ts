import { afterEach, describe, expect, it } from 'vitest'
import { canaryPairs } from '#main/core/campaign/visit-check.ts'
import { judgeVisit } from '#main/core/campaign/visit-history.ts'
import { driftOf } from '#main/core/campaign/warm-up.ts'
import { whiteDrift } from '#main/core/campaign/white-drift.ts'
import { campaignPlanSchema, type CampaignPlan } from '#shared/domain/campaign-plan.ts'
import { AppError } from '#shared/domain/errors.ts'
import { latencyPlanSchema } from '#shared/domain/latency.ts'
import { leftInAll, nextDue } from '#shared/domain/run.ts'
import { DEFAULT_LIMITS } from '#shared/findings/campaign/figures.ts'
import { openBenchCore, planOf, type BenchCore } from '../support/bench-core.ts'
import { wholeFile } from '../support/whole-file.ts'

let bench: BenchCore | null = null
afterEach(async () => {
  await bench?.close()
  bench = null
})

async function readyBench(options: Parameters<typeof openBenchCore>[0] = {}): Promise<BenchCore> {
  bench = await openBenchCore(options)
  await bench.core.system.acknowledgeWarning({ understood: true })
  return bench
}

const campaignPlan = (change: Partial<CampaignPlan> = {}): CampaignPlan =>
  campaignPlanSchema.parse({ settings: ['Off', 'Strong'], refreshHz: [60], sweep: planOf({ repeats: 1 }), ...change })

async function newCampaign(on: BenchCore): Promise<number> {
  return (await on.core.campaigns.create({ name: 'Invented', display: 'Invented display', note: '' })).id
}

const asked = (on: BenchCore) => on.state().run?.question ?? null

/** A run over two settings that asks for the first, which the display has. */
async function askedFirst(): Promise<{ on: BenchCore; campaignId: number; runId: number }> {
  const on = await readyBench()
  const campaignId = await newCampaign(on)
  await on.core.stimulus.simulatedMenu({ setting: 'Off', refreshHz: 60 })
  const { id: runId } = await on.core.runs.create({ campaignId, plan: campaignPlan() })
  await on.core.runs.start({ runId })
  await on.until(() => asked(on) !== null, 'the first question')
  return { on, campaignId, runId }
}

describe('a run of a campaign', () => {
  it('asks for each setting, catches one that nobody changed, and ends with findings, report and bundle', async () => {
    const { on, campaignId, runId } = await askedFirst()
    expect(asked(on)).toMatchObject({
      kind: 'change',
      instruction: 'Set overdrive to Off and refresh rate to 60 Hz',
      answers: ['again', 'skip'],
    })
    await on.core.runs.answer({ runId, answer: 'again' })
    await on.until(() => asked(on)?.visit.setting === 'Strong', 'the question for Strong', 60)
    expect(asked(on)?.instruction).toBe('Set overdrive to Strong')

    // Nobody changes it.
    await on.core.runs.answer({ runId, answer: 'again' })
    await on.until(() => asked(on)?.kind === 'unchanged', 'being caught', 60)
    expect(asked(on)?.reason).toMatch(/^This still looks like Off: /)
    expect(asked(on)?.answers).toEqual(['again', 'accept', 'skip'])

    await on.core.stimulus.simulatedMenu({ setting: 'Strong' })
    await on.core.runs.answer({ runId, answer: 'again' })
    await on.until((state) => state.run === null, 'the end of the run', 60)
    const [run] = await on.core.runs.list({ campaignId })
    expect(run).toMatchObject({ state: 'finished', reason: '' })

    const content = await on.core.campaigns.content({ campaignId, recipeHash: on.state().recipeHash })
    expect(content.points.map(({ setting, refreshHz }) => [setting, refreshHz])).toEqual([
      ['Off', 60],
      ['Strong', 60],
    ])
    const request = { campaignId, limits: DEFAULT_LIMITS, weighting: 'equal' } as const
    const html = await wholeFile(await on.core.files.export({ what: 'report', form: 'html', ...request }))
    expect(html.name).toBe('Invented-display.html')
    expect(new TextDecoder().decode(html.bytes)).toContain('Invented display: these numbers come from a simulated rig.')
    const bundle = await wholeFile(await on.core.files.export({ what: 'bundle', ...request }))
    expect(bundle.name).toMatch(/^Invented-display-[0-9a-f]{8}-bundle\.zip$/)
    expect(String.fromCodePoint(...bundle.bytes.subarray(0, 2))).toBe('PK')
  })

  it('refuses a refresh rate that is not the planned one, and leaves out what a person skips', async () => {
    const on = await readyBench()
    const campaignId = await newCampaign(on)
    await on.core.stimulus.simulatedMenu({ setting: 'Off', refreshHz: 120 })
    const { id: runId } = await on.core.runs.create({ campaignId, plan: campaignPlan({ settings: ['Off'] }) })
    await on.core.runs.start({ runId })
    await on.until(() => asked(on) !== null, 'the question')
    await on.core.runs.answer({ runId, answer: 'again' })
    await on.until(() => asked(on)?.kind === 'refresh', 'being told of the refresh rate')
    expect(asked(on)?.reason).toContain('120 Hz')
    await on.core.runs.answer({ runId, answer: 'skip' })
    await on.until((state) => state.run === null, 'the end')
    const [sweep] = await on.store.sweeps({ campaignId })
    expect(sweep).toMatchObject({ state: 'stopped', reason: 'Skipped by the operator.' })
    // What was set by hand ends with the run: the next plan is followed again.
    const sweepId = await on.plan({ refreshHz: 60, repeats: 1 })
    await on.core.sweeps.start({ sweepId })
    await on.until((now) => now.sweep?.sweepId === sweepId && now.sweep.state === 'finished', 'the next sweep', 60)
  })

  it('pauses while it waits, and goes on later with what is left', async () => {
    const on = await readyBench()
    const campaignId = await newCampaign(on)
    const { id: runId } = await on.core.runs.create({ campaignId, plan: campaignPlan({ settings: ['Off'] }) })
    await on.core.runs.start({ runId })
    await on.until(() => asked(on) !== null, 'the question')
    await expect(on.core.runs.start({ runId })).rejects.toMatchObject({ code: 'conflict' })
    await on.core.runs.pause({ runId })
    expect((await on.core.runs.list({ campaignId }))[0]).toMatchObject({ state: 'paused' })
    await expect(on.core.runs.answer({ runId, answer: 'again' })).rejects.toMatchObject({ code: 'conflict' })
    await on.core.runs.start({ runId })
    await on.until(() => asked(on) !== null, 'the question again')
    await on.core.runs.answer({ runId, answer: 'again' })
    await on.until((state) => state.run === null, 'the end', 60)
    expect((await on.core.runs.list({ campaignId }))[0]).toMatchObject({ state: 'finished' })
  })
})

describe('a run that loses what it measures with', () => {
  const noted = (on: BenchCore, text: string) =>
    on.events.filter((event) => event.kind === 'log' && event.entry.text.includes(text)).length
  const waits = (on: BenchCore) => on.until((state) => state.run?.phase === 'waiting', 'the wait')

  it('waits for a rig lost between two sweeps and in one, says so, and goes on by itself', async () => {
    const { on, campaignId, runId } = await askedFirst()
    await on.core.rig.inject({ fault: 'unplug' })
    await on.core.runs.answer({ runId, answer: 'again' })
    await waits(on)
    expect(noted(on, 'The rig is lost. The run waits and goes on when it is back.')).toBe(1)
    await on.core.rig.inject({ fault: 'replug' })
    await on.until((state) => state.run?.phase === 'sweeping' && (state.sweep?.done ?? 0) >= 2, 'two captures')
    expect(noted(on, 'The rig is back; the run goes on.')).toBe(1)
    await on.core.rig.inject({ fault: 'unplug' })
    await waits(on)
    await on.core.rig.inject({ fault: 'replug' })
    // Nobody is asked for the setting that the display has.
    await on.until(() => asked(on) !== null, 'the question for Strong')
    expect(asked(on)?.visit.setting).toBe('Strong')
    await on.core.stimulus.simulatedMenu({ setting: 'Strong' })
    await on.core.runs.answer({ runId, answer: 'again' })
    await on.until((state) => state.run === null, 'the end of the run')
    expect((await on.core.runs.list({ campaignId }))[0]).toMatchObject({ state: 'finished', reason: '' })
    const sweeps = await on.store.sweeps({ campaignId })
    for (const { state, done, total, missing } of sweeps)
      expect({ state, done, missing }).toEqual({ state: 'finished', done: total, missing: 0 })
    expect(noted(on, 'The rig is back; the run goes on.')).toBe(2)
  })

  it('can be paused while it waits', async () => {
    const { on, campaignId, runId } = await askedFirst()
    await on.core.rig.inject({ fault: 'unplug' })
    await on.core.runs.answer({ runId, answer: 'again' })
    await waits(on)
    await on.core.runs.pause({ runId })
    expect((await on.core.runs.list({ campaignId }))[0]).toMatchObject({ state: 'paused' })
    expect(on.state().run).toBeNull()
  })

  it('asks again for the setting of a display that was gone', async () => {
    let there = true
    const listeners = new Set<() => void>()
    const on = await readyBench({
      wrapStimulus: (stimulus) => {
        const state = () => ({ ...stimulus.state(), kind: 'page' as const, connected: there, fullScreen: there })
        return {
          ...stimulus,
          state,
          onState(listener) {
            const tell = (): void => listener(state())
            listeners.add(tell)
            return () => listeners.delete(tell)
          },
          async prepare(...given) {
            if (!there) throw new AppError('stimulus-absent', 'No stimulus page is open.', 'Open it.')
            return stimulus.prepare(...given)
          },
        }
      },
    })
    const campaignId = await newCampaign(on)
    const { id: runId } = await on.core.runs.create({ campaignId, plan: campaignPlan({ settings: ['Off'] }) })
    await on.core.runs.start({ runId })
    await on.until(() => asked(on) !== null, 'the question')
    there = false
    await on.core.runs.answer({ runId, answer: 'again' })
    await waits(on)
    expect(noted(on, 'The display is lost.')).toBe(1)
    there = true
    for (const tell of listeners) tell()
    await on.until(() => asked(on) !== null, 'the question again')
    await on.core.runs.answer({ runId, answer: 'again' })
    await on.until((state) => state.run === null, 'the end of the run')
    expect((await on.core.runs.list({ campaignId }))[0]).toMatchObject({ state: 'finished' })
  })
})

describe('a second page while a run waits for an answer', () => {
  it('can start nothing else on rig and display, and is told why', async () => {
    const on = await readyBench()
    const campaignId = await newCampaign(on)
    const single = await on.plan({ repeats: 1 })
    const { id: runId } = await on.core.runs.create({ campaignId, plan: campaignPlan({ settings: ['Off'] }) })
    const { id: other } = await on.core.runs.create({ campaignId, plan: campaignPlan({ settings: ['Strong'] }) })
    // Two pages at the same instant: one of them gets it.
    const starts = await Promise.allSettled([on.core.runs.start({ runId }), on.core.runs.start({ runId: other })])
    expect(starts.map(({ status }) => status).sort()).toEqual(['fulfilled', 'rejected'])
    await on.until(() => asked(on) !== null, 'the question')
    const { core } = on
    const plan = planOf({ repeats: 1 })
    const latency = latencyPlanSchema.parse({ refreshHz: 60 })
    for (const attempt of [
      () => core.sweeps.start({ sweepId: single }),
      () => core.latency.start({ campaignId, plan: latency }),
      () => core.rig.monitor({ on: true, rangeV: 5 }),
      () => core.rig.disconnect(),
      () => core.stimulus.show({ plan, level: 0 }),
    ])
      await expect(attempt()).rejects.toMatchObject({ code: 'conflict', message: 'A campaign run is in progress.' })
    expect(asked(on)).not.toBeNull()
  })
})

describe('a run whose making was cut short', () => {
  it('gets the sweeps it lacks when it is started', async () => {
    let made = 0
    const on = await readyBench({
      beforeOperation: (name) => {
        if (name === 'createSweep' && (made += 1) === 2) throw new Error('The program ended.')
      },
    })
    const campaignId = await newCampaign(on)
    await expect(on.core.runs.create({ campaignId, plan: campaignPlan() })).rejects.toThrow()
    const [half] = await on.core.runs.list({ campaignId })
    expect(half?.sweepIds).toHaveLength(1)
    const runId = half?.id ?? 0
    await on.core.runs.start({ runId })
    await on.core.runs.pause({ runId })
    const [whole] = await on.core.runs.list({ campaignId })
    expect(whole?.sweepIds[0]).toBe(half?.sweepIds[0])
    const sweeps = await on.store.sweeps({ campaignId })
    expect(sweeps.map(({ setting, refreshHz }) => `${setting} ${refreshHz}`).sort()).toEqual(['Off 60', 'Strong 60'])
  })
})

describe('sweeps skipped, taken again and brought back', () => {
  const short = (change: Partial<CampaignPlan> = {}) =>
    campaignPlan({ sweep: planOf({ levels: [0, 255], repeats: 1 }), ...change })
  const states = async (on: BenchCore, campaignId: number) => {
    const [run] = await on.core.runs.list({ campaignId })
    const sweeps = await Promise.all((run?.sweepIds ?? []).map((sweepId) => on.store.sweep({ sweepId })))
    return sweeps.map(({ setting, refreshHz, state, done }) => `${setting}@${refreshHz} ${state} ${done}`)
  }

  it('skips the sweep at work, goes on, and comes back to it and to a done one in the same run', async () => {
    const on = await readyBench()
    const campaignId = await newCampaign(on)
    const { id: runId, sweepIds } = await on.core.runs.create({
      campaignId,
      plan: short({ sweep: planOf({ levels: [0, 255], repeats: 8 }), settings: ['Off', 'Strong'] }),
    })
    const [off, strong] = sweepIds as [number, number]
    await on.core.runs.start({ runId })
    await on.until(() => asked(on) !== null, 'the question')
    await on.core.stimulus.simulatedMenu({ setting: 'Off', refreshHz: 60 })
    await on.core.runs.answer({ runId, answer: 'again' })
    await on.until(({ run, sweep }) => run?.phase === 'sweeping' && (sweep?.done ?? 0) > 1, 'captures', 60)
    const [own, later] = [on.state().run?.ownS, on.state().run?.laterS]
    expect(own).toBeGreaterThan(1)
    expect(later).toBe(own)
    await expect(on.core.runs.retake({ runId, sweepId: off })).rejects.toMatchObject({ code: 'conflict' })
    await on.core.runs.skip({ runId, sweepId: off })
    await on.until(() => asked(on)?.visit.setting === 'Strong', 'the next question', 60)
    expect(on.state().run).toMatchObject({ index: 1, done: 1, laterS: 0, sweepId: strong })
    const kept = (await on.store.sweep({ sweepId: off })).done
    expect(kept).toBeGreaterThan(1)
    expect(await states(on, campaignId)).toEqual([`Off@60 stopped ${kept}`, 'Strong@60 ready 0'])

    // Skipped while its question stands: nothing is due any more, the run is over.
    await on.core.runs.skip({ runId, sweepId: strong })
    await on.until(({ run }) => run === null, 'the end')
    expect((await on.core.runs.list({ campaignId }))[0]).toMatchObject({ state: 'finished' })

    // Tomorrow: the rest of the first, and then that sweep once more.
    await on.core.runs.unskip({ runId, sweepId: off })
    expect((await on.core.runs.list({ campaignId }))[0]).toMatchObject({ state: 'paused' })
    await on.core.runs.start({ runId })
    await on.until(() => asked(on)?.visit.setting === 'Off', 'the question for Off')
    await on.core.stimulus.simulatedMenu({ setting: 'Off', refreshHz: 60 })
    await on.core.runs.answer({ runId, answer: 'again' })
    await on.until(({ run }) => run === null, 'the end', 60)
    expect(await states(on, campaignId)).toEqual(['Off@60 finished 16', 'Strong@60 stopped 0'])
    const again = await on.core.runs.retake({ runId, sweepId: off })
    expect(await states(on, campaignId)).toEqual(['Off@60 ready 0', 'Strong@60 stopped 0'])
    expect(again.plan.seed).not.toBe((await on.store.sweep({ sweepId: off })).plan.seed)
    expect(await on.store.sweep({ sweepId: off })).toMatchObject({ hidden: true, done: 16 })
    const before = await on.core.campaigns.content({ campaignId, recipeHash: on.state().recipeHash })
    expect(before.points).toEqual([])
    await on.core.runs.restore({ runId, sweepId: off })
    expect(await states(on, campaignId)).toEqual(['Off@60 finished 16', 'Strong@60 stopped 0'])
    expect(await on.store.sweep({ sweepId: again.id })).toMatchObject({ hidden: true })
    expect((await on.core.runs.list({ campaignId }))[0]).toMatchObject({ state: 'finished' })
    // The list of sweeps restores the other way round, and never two of one place.
    await on.core.sweeps.hide({ sweepId: again.id, hidden: false })
    expect(await on.store.sweep({ sweepId: off })).toMatchObject({ hidden: true })
    expect(await states(on, campaignId)).toEqual(['Off@60 ready 0', 'Strong@60 stopped 0'])
  })

  it('takes what is left of the setting the display has before it goes back to another', () => {
    const sweep = (setting: string, refreshHz: number, state: 'ready' | 'finished' | 'stopped') => ({
      setting,
      refreshHz,
      state,
    })
    const sweeps = [
      sweep('Off', 60, 'ready'),
      sweep('Off', 144, 'finished'),
      sweep('Strong', 144, 'stopped'),
      sweep('Strong', 60, 'ready'),
    ]
    expect(nextDue(sweeps, { setting: 'Strong', refreshHz: 144 })).toBe(sweeps[3])
    expect(nextDue(sweeps, { setting: 'Off', refreshHz: 144 })).toBe(sweeps[0])
    expect(nextDue(sweeps, null)).toBe(sweeps[0])
    expect(nextDue(sweeps.slice(1, 3), null)).toBeNull()
  })

  it('knows the time left in all from the plan, and of the sweep at work from that', () => {
    const run = { phase: 'sweeping', sweepId: 2, ownS: 100, laterS: 50 } as const
    expect(leftInAll(run, { sweepId: 2, leftS: 30 })).toBe(80)
    expect(leftInAll(run, { sweepId: 1, leftS: 30 })).toBe(150)
    expect(leftInAll({ ...run, phase: 'asking' }, { sweepId: 2, leftS: 30 })).toBe(150)
    expect(leftInAll({ ...run, laterS: null }, null)).toBeNull()
  })

  it('does not go on with a sweep of a real display on a simulated rig', async () => {
    const on = await readyBench()
    const campaignId = await newCampaign(on)
    const plan = short({ settings: ['Off'] })
    const { id: runId } = await on.store.createRun({ campaignId, plan })
    const { id: sweepId } = await on.store.createSweep({
      campaignId,
      plan: plan.sweep,
      origin: 'measured',
      rigIdentity: 'Some digitizer',
      total: 2,
      run: { id: runId, position: 0 },
    })
    await expect(on.core.runs.start({ runId })).rejects.toMatchObject({
      code: 'conflict',
      message: expect.stringContaining('real rig'),
    })
    await expect(on.core.sweeps.start({ sweepId })).rejects.toMatchObject({
      code: 'conflict',
      message: expect.stringContaining('real rig'),
    })
  })
})

describe('checks of a run', () => {
  it('takes four pairs in a chain, away from where the drive saturates, or as many as there are', () => {
    const chain = ['64-191', '191-128', '128-191', '191-64']
    for (const levels of [
      [0, 43, 85, 128, 170, 213, 255],
      [0, 128, 255],
      [255, 0],
    ])
      expect(canaryPairs(levels).map(({ from, to }) => `${from}-${to}`)).toEqual(chain)
    expect(canaryPairs([100, 110])).toHaveLength(2)
  })
  it('does not claim "unchanged" where a transition could be measured at one visit only', () => {
    const [first, ...others] = canaries(1)
    expect(first).toBeDefined()
    expect(judgeVisit(visit, others, [past('Off', 1)], 0.05)).toBeNull()
  })
  const visit = { setting: 'Strong', refreshHz: 60 }
  const canaries = (scale: number) =>
    canaryPairs([0, 64, 128, 192, 255]).map((pair, i) => ({
      ...pair,
      durationsS: [0.99, 1, 1.01].map((one) => one * scale * (0.004 + 0.001 * i)),
    }))
  const past = (setting: string, scale: number) => ({ sweepId: 1, setting, refreshHz: 60, canaries: canaries(scale) })
  it('tells a display that is as another setting was, and one that is not as before', () => {
    expect(judgeVisit(visit, canaries(1), [past('Off', 1)], 0.05)?.kind).toBe('unchanged')
    expect(judgeVisit(visit, canaries(1.3), [past('Off', 1)], 0.05)).toBeNull()
    expect(judgeVisit(visit, canaries(1.3), [past('Strong', 1)], 0.05)?.kind).toBe('differs')
    expect(judgeVisit(visit, canaries(1), [past('Off', 1), past('Strong', 1)], 0.05)).toBeNull()
    expect(judgeVisit({ ...visit, refreshHz: 120 }, canaries(1), [past('Off', 1)], 0.05)).toBeNull()
  })
  it('knows the drift of white only after two minutes', () => {
    const points = (minutes: number) =>
      Array.from({ length: minutes * 12 + 1 }, (_, i) => ({ atS: 5 * i, volts: 1 + 0.001 * ((5 * i) / 60) }))
    expect(driftOf(points(1))).toBeNull()
    // 1 mV a minute of 1.001 V on average over the last two minutes.
    expect(driftOf(points(2))).toBeCloseTo(0.0999, 4)
  })
  it('tells a lamp that fell from a display that changed', () => {
    const ladder = (values: readonly number[]) => ({
      steps: [0, 128, 255].map((level, i) => ({ level, meanV: values[i] as number, sdV: 0, peakToPeakV: 0 })),
      darkV: null,
      takenAt: '',
    })
    const sweeps = (second: readonly number[]) => [
      { id: 1, ladder: ladder([0.001, 0.2, 1]) },
      { id: 2, ladder: ladder(second) },
    ]
    expect(whiteDrift(sweeps([0.001, 0.2, 1]), 2)).toBeNull()
    expect(whiteDrift(sweeps([0.0009, 0.18, 0.9]), 2)).toContain('lamp or sensor')
    expect(whiteDrift(sweeps([0.001, 0.25, 0.9]), 2)).toContain('a different picture mode')
  })
})
