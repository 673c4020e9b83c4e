import { describe, expect, it } from 'vitest'
import { createClock } from '#main/platform/clock.ts'
import { createPageStimulus, MEASURE_FRAMES, type PageStimulus } from '#main/stimulus/page.ts'
import { createStimulusRouter } from '#main/stimulus/router.ts'
import { sweepPlanSchema, type SweepPlan } from '#shared/domain/plan.ts'
import type { StimulusCommand, StimulusReport } from '#shared/domain/stimulus.ts'
import { recordedLog } from '../transport/fake-core.ts'

const plan: SweepPlan = sweepPlanSchema.parse({
  setting: 'Off',
  refreshHz: 60,
  levels: [32, 255],
  repeats: 1,
  preS: 0.05,
  postS: 0.2,
  spacingS: 0.35,
  sampleRateHz: 50_000,
  rangeV: 5,
  patch: { sizePct: 12, surround: 7 },
})

/** A page that answers every command by a function, or not at all. */
function attachPage(
  stimulus: PageStimulus,
  answer: (command: StimulusCommand) => StimulusReport | null,
  connection = 'one',
): { commands: StimulusCommand[]; leave(): void; ended: Promise<void> } {
  const controller = new AbortController()
  const commands: StimulusCommand[] = []
  const run = async (): Promise<void> => {
    for await (const command of stimulus.attach(connection, controller.signal)) {
      commands.push(command)
      const report = answer(command)
      if (report !== null) stimulus.report(connection, report)
    }
  }
  return { commands, leave: () => controller.abort(), ended: run() }
}

const prepared = (hz: number, spreadMs = 0.02, frames = MEASURE_FRAMES): StimulusReport => ({
  kind: 'prepared',
  medianFrameMs: 1000 / hz,
  spreadMs,
  frames,
})

function answering(hz = 60, dropped = false): (command: StimulusCommand) => StimulusReport | null {
  return (command) => {
    if (command.kind === 'prepare') return prepared(hz)
    if (command.kind === 'release' || command.kind === 'disarm') return null
    if (command.kind === 'react') return { kind: 'armed', token: command.token }
    return { kind: 'shown', token: command.token, switchMs: 100, dropped }
  }
}

const create = (rate = 1) => createPageStimulus({ clock: createClock(rate), log: recordedLog() })

describe('levels on a page', () => {
  it('are absent without a page, in words that say what to do', async () => {
    const stimulus = create()
    expect(stimulus.state()).toMatchObject({ kind: 'page', connected: false })
    await expect(stimulus.prepare(plan)).rejects.toMatchObject({ code: 'stimulus-absent' })
    await expect(stimulus.show(1)).rejects.toMatchObject({ code: 'stimulus-absent' })
    await stimulus.release()
  })

  it('are shown with patch, surround, refresh rate and frame log', async () => {
    const stimulus = create()
    const page = attachPage(stimulus, answering(59.94))
    stimulus.report('one', { kind: 'ready', fullScreen: true, widthPx: 1920, heightPx: 1080 })
    await stimulus.prepare(plan)
    const log = await stimulus.show(255)
    expect(page.commands).toEqual([
      { kind: 'prepare', sizePct: 12, surround: 7, level: 32, measureFrames: MEASURE_FRAMES, rows: [0.5] },
      { kind: 'show', token: 1, level: 255 },
    ])
    expect(log).toEqual({
      source: 'page',
      frameMs: 1000 / 59.94,
      switchMs: 100,
      dropped: false,
    })
    const state = stimulus.state()
    expect(state).toMatchObject({ connected: true, fullScreen: true, frames: MEASURE_FRAMES, level: 255, problem: '' })
    expect(state.measuredHz).toBeCloseTo(59.94, 6)
    await stimulus.release()
    page.leave()
    await page.ended
    expect(stimulus.state()).toMatchObject({ connected: false, measuredHz: null, level: null })
  })

  it('change by themselves at an event they were told of, and not after it was given up', async () => {
    const stimulus = create()
    const page = attachPage(stimulus, answering(60))
    const heights = { patches: [0.05, 0.5, 0.95], sensor: 0.05 }
    await stimulus.prepare(plan, undefined, heights)
    const { reacted } = await stimulus.react(255, new AbortController().signal)
    const token = page.commands.flatMap((command) => (command.kind === 'react' ? [command.token] : []))[0] ?? -1
    // A report of an earlier event is none of this one.
    stimulus.report('one', { kind: 'reacted', token: token - 1, handlerMs: 9 })
    stimulus.report('one', { kind: 'reacted', token, handlerMs: 0.7 })
    expect(await reacted).toEqual({ handlerMs: 0.7 })
    const given = new AbortController()
    const second = await stimulus.react(0, given.signal)
    given.abort()
    await expect(second.reacted).rejects.toMatchObject({ code: 'cancelled' })
    const third = await stimulus.react(0, new AbortController().signal)
    page.leave()
    await expect(third.reacted).rejects.toMatchObject({ code: 'stimulus-absent' })
    expect(page.commands.map(({ kind }) => kind)).toEqual(['prepare', 'react', 'react', 'disarm', 'react'])
    expect(page.commands[0]).toMatchObject({ rows: heights.patches })
  })

  it('give way to a still picture, whose mark is no level', async () => {
    const stimulus = create()
    const page = attachPage(stimulus, answering(60))
    await stimulus.prepare(plan)
    const picture = { x: 0.5, y: 0.05, rgb: [10, 200, 30] as [number, number, number], sizePct: 20, surround: 0 }
    await stimulus.picture({ ...picture, mark: true })
    expect(stimulus.state().level).toBeNull()
    await stimulus.picture({ ...picture, mark: false })
    expect(stimulus.state().level).toBe(200)
    expect(page.commands.slice(1)).toEqual([
      { kind: 'picture', token: 1, picture: { ...picture, mark: true } },
      { kind: 'picture', token: 2, picture: { ...picture, mark: false } },
    ])
  })

  it('tell of a dropped frame', async () => {
    const stimulus = create()
    attachPage(stimulus, answering(60, true))
    expect(await stimulus.show(0)).toMatchObject({ dropped: true })
  })

  it('are refused at another refresh rate than planned, with both numbers', async () => {
    for (const hz of [59, 61, 75, 30, 120]) {
      const stimulus = create()
      attachPage(stimulus, answering(hz))
      // oxlint-disable-next-line no-await-in-loop
      await expect(stimulus.prepare(plan)).rejects.toMatchObject({
        code: 'stimulus-mismatch',
        message: `The display runs at ${hz.toFixed(2)} Hz (${MEASURE_FRAMES} frames), the plan says 60 Hz.`,
      })
    }
    for (const hz of [59.94, 60.05, 59.5]) {
      const stimulus = create()
      attachPage(stimulus, answering(hz))
      // oxlint-disable-next-line no-await-in-loop
      await stimulus.prepare(plan)
    }
  })

  it('are refused when too few frames were counted, and doubted when they come unsteadily', async () => {
    const few = create()
    attachPage(few, () => prepared(60, 0.02, 100))
    await expect(few.prepare(plan)).rejects.toMatchObject({ code: 'stimulus-mismatch' })
    const unsteady = create()
    attachPage(unsteady, () => prepared(60, 6))
    await unsteady.prepare(plan)
    expect(unsteady.state().problem).toContain('unsteadily')
  })

  it('are absent when the page goes while it is waited for', async () => {
    const stimulus = create()
    const page = attachPage(stimulus, () => null)
    const showing = stimulus.show(255)
    await new Promise((resolve) => setTimeout(resolve, 5))
    page.leave()
    await expect(showing).rejects.toMatchObject({ code: 'stimulus-absent' })
    const next = attachPage(stimulus, answering(), 'two')
    expect(await stimulus.show(1)).toMatchObject({ source: 'page' })
    next.leave()
  })

  it('are given up when the page does not answer', async () => {
    const stimulus = create(100)
    attachPage(stimulus, () => null)
    await expect(stimulus.show(255)).rejects.toMatchObject({
      code: 'stimulus-absent',
      message: 'The stimulus page did not answer within 3 s.',
    })
  })

  it('can be cancelled', async () => {
    const stimulus = create()
    attachPage(stimulus, () => null)
    const controller = new AbortController()
    const showing = stimulus.show(255, controller.signal)
    controller.abort()
    await expect(showing).rejects.toMatchObject({ code: 'cancelled' })
    await expect(stimulus.show(255, controller.signal)).rejects.toMatchObject({ code: 'cancelled' })
  })

  it('belong to the page that attached last; the earlier one is let go and not listened to', async () => {
    const stimulus = create()
    const first = attachPage(stimulus, answering(), 'one')
    const second = attachPage(stimulus, () => null, 'two')
    await first.ended
    const showing = stimulus.show(9)
    stimulus.report('one', { kind: 'shown', token: 1, switchMs: 1, dropped: true })
    stimulus.report('two', { kind: 'shown', token: 7, switchMs: 2, dropped: true })
    stimulus.report('two', { kind: 'shown', token: 1, switchMs: 3, dropped: false })
    expect(await showing).toMatchObject({ switchMs: 3, dropped: false })
    expect(stimulus.state().connected).toBe(true)
    second.leave()
  })

  it('say so when the page is not full screen', async () => {
    const stimulus = create()
    attachPage(stimulus, () => null)
    stimulus.report('one', { kind: 'ready', fullScreen: false, widthPx: 800, heightPx: 600 })
    expect(stimulus.state()).toMatchObject({ fullScreen: false, problem: 'The stimulus page is not full screen.' })
  })
})

describe('the choice of stimulus', () => {
  it('sends levels to the chosen one and hears only of that', async () => {
    const page = create()
    const other = create()
    const router = createStimulusRouter({ simulated: other, page })
    const heard: boolean[] = []
    router.onState((state) => heard.push(state.connected))
    const attached = attachPage(page, answering())
    expect(heard).toEqual([])
    router.use('page')
    expect(heard).toEqual([true])
    expect(await router.show(4)).toMatchObject({ source: 'page' })
    router.use('simulated')
    await expect(router.show(4)).rejects.toMatchObject({ code: 'stimulus-absent' })
    attached.leave()
    expect(heard).toEqual([true, true, false])
  })
})
