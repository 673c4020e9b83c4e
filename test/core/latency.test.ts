/** A run of input latency on the simulated rig, through its bytes, against the sum of what the simulation was told. */
import { mkdtempSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterEach, describe, expect, it } from 'vitest'
import { AppError } from '#shared/domain/errors.ts'
import { latencyPlanSchema } from '#shared/domain/latency.ts'
import { rowsOf } from '#shared/domain/record-kinds.ts'
import type { JobOutcome } from '#shared/domain/job-outcome.ts'
import type { z } from 'zod'
import { latencyPart } from '#shared/record/latency-part.ts'
import { eventLight } from '#shared/latency/event.ts'
import { simulationSchema, type Simulation } from '#shared/domain/rig.ts'
import { openTestStore, testTrace } from '../store/fixtures.ts'
import { openBenchCore, type BenchCore } from '../support/bench-core.ts'

let bench: BenchCore | null = null
afterEach(async () => {
  await bench?.close()
  bench = null
})

async function opened(simulation: Partial<Simulation> = {}): Promise<{ host: BenchCore; campaignId: number }> {
  const host = await openBenchCore({ simulation })
  bench = host
  await host.core.system.acknowledgeWarning({ understood: true })
  const { id } = await host.core.campaigns.create({ name: 'Invented', display: 'Invented display', note: '' })
  return { host, campaignId: id }
}

type PlanInput = z.input<typeof latencyPlanSchema>

async function measure(host: BenchCore, campaignId: number, plan: PlanInput): Promise<JobOutcome> {
  const { jobId } = await host.core.latency.start({ campaignId, plan: latencyPlanSchema.parse(plan) })
  const ended = (): boolean => host.state().jobs.some(({ id, state }) => id === jobId && state !== 'running')
  await host.until(ended, 'the end of the latency run')
  return host.core.jobs.outcome({ jobId })
}

describe('input latency', () => {
  it('is what the simulation was told, from the events to the record', async () => {
    const simulation = { hostDelayS: 0.003, pollS: 0.001, queuedFrames: 1, signalDelayS: 0.006, seed: 5 }
    const { host, campaignId } = await opened(simulation)
    const plan = { refreshHz: 240, events: 30, afterS: 0.15 }
    const outcome = await measure(host, campaignId, plan)
    expect(outcome).toMatchObject({ kind: 'latency', state: 'finished', result: { taken: 30, unclear: 0 } })
    const [run] = await host.core.latency.runs({ campaignId })
    expect(run).toMatchObject({ events: 30, plan: { refreshHz: 240 } })
    const [reading] = await host.core.readings.list({ campaignId })
    expect(reading).toMatchObject({ id: run?.readingId, kind: 'input-latency-run' })
    const rows = rowsOf(reading!)
    expect(rows).toHaveLength(30)
    const frame = 1000 / 240
    // Host and half a poll, half a frame of wait, one queued frame, half of the scan of 0.95 frames, the display's own.
    const truth = 3 + 0.5 + frame / 2 + frame + 0.5 * 0.95 * frame + 6
    const onsets = rows.map((row) => row[2] ?? Number.NaN)
    const mean = onsets.reduce((sum, value) => sum + value, 0) / 30
    // Five standard errors of the two waits.
    expect(Math.abs(mean - truth)).toBeLessThan((5 * Math.hypot(frame, 1)) / Math.sqrt(12 * 30))
    // No event is faster than without any wait, none slower than with all of it; 0.3 ms for the first light to show.
    expect(Math.min(...onsets)).toBeGreaterThan(truth - frame / 2 - 0.5 - 0.1)
    expect(Math.max(...onsets)).toBeLessThan(truth + frame / 2 + 0.5 + 0.3)
    const [event] = await host.store.latencyEvents({ runId: run!.id, from: 7, limit: 1 })
    expect(event).toMatchObject({ position: 7, triggerIndex: 400, trace: { format: 'int16', sampleRateHz: 20_000 } })
    expect(event?.trace.samples).toHaveLength(3400)
    const part = latencyPart(await host.core.readings.list({ campaignId }))
    expect(part.quantity.missing.join(' ')).toContain('30 of at least 100 events')
    expect(part.quantity.figures.map(({ label }) => label)).toContain('Response, first light to half of the step')
  })

  it('puts the sensor where it is asked to, and back', async () => {
    const { host, campaignId } = await opened({ pollS: 0 })
    await measure(host, campaignId, { refreshHz: 120, events: 2, row: 0.95, reaction: 'three', afterS: 0.1 })
    expect(host.simulated.current()?.display.row).toBe(0.95)
    await host.core.stimulus.show({ plan: (await host.core.sweeps.get({ sweepId: await host.plan() })).plan, level: 0 })
    expect(host.simulated.current()?.display.row).toBe(0.5)
  })

  it('waits for a hand, is cancelled, and keeps what there is', async () => {
    const { host, campaignId } = await opened()
    const { jobId } = await host.core.latency.start({
      campaignId,
      plan: latencyPlanSchema.parse({ refreshHz: 60, events: 50, press: 'person', afterS: 0.1 }),
    })
    await expect(
      host.core.latency.start({ campaignId, plan: latencyPlanSchema.parse({ refreshHz: 60 }) }),
    ).rejects.toMatchObject({
      code: 'conflict',
    })
    const sweepId = await host.plan()
    await expect(host.core.sweeps.start({ sweepId })).rejects.toMatchObject({ code: 'conflict' })
    while ((host.state().jobs.find(({ id }) => id === jobId)?.done ?? 0) < 3) {
      host.simulated.current()?.inputEvent()
      // oxlint-disable-next-line no-await-in-loop
      await host.clock.sleep(0.5)
    }
    await host.core.jobs.cancel({ jobId })
    await host.until(
      () => host.state().jobs.some(({ id, state }) => id === jobId && state === 'cancelled'),
      'the cancel',
    )
    const outcome = await host.core.jobs.outcome({ jobId })
    const readings = await host.core.readings.list({ campaignId })
    expect(readings).toHaveLength(1)
    expect(outcome).toMatchObject({ result: { readingId: readings[0]?.id } })
    expect(rowsOf(readings[0]!).length).toBeGreaterThanOrEqual(3)
  })

  it('is given up with the reason where the light does not follow', async () => {
    const { host, campaignId } = await opened()
    await host.core.rig.inject({ fault: 'covered' })
    const outcome = await measure(host, campaignId, { refreshHz: 60, events: 10, afterS: 0.1 })
    expect(outcome).toMatchObject({ state: 'failed', failure: { code: 'rig-unsuitable' }, result: { unclear: 5 } })
    expect(outcome.failure?.message).toMatch(/No light step follows the event/)
    expect(await host.core.readings.list({ campaignId })).toEqual([])
    // The records are kept: they show why.
    expect((await host.core.latency.runs({ campaignId }))[0]).toMatchObject({ events: 5, readingId: null })
  })
})

describe('a rig that is pulled', () => {
  it('ends the run with the reason, and the events there are become its reading', async () => {
    const { host, campaignId } = await opened()
    const { jobId } = await host.core.latency.start({
      campaignId,
      plan: latencyPlanSchema.parse({ refreshHz: 60, events: 1000, afterS: 0.1 }),
    })
    await host.until(() => (host.state().jobs.find(({ id }) => id === jobId)?.done ?? 0) >= 3, 'three events')
    await host.core.rig.inject({ fault: 'unplug' })
    await host.until(() => host.state().jobs.some(({ id, state }) => id === jobId && state === 'failed'), 'the end')
    const { failure, result } = (await host.core.jobs.outcome({ jobId })) as {
      failure: unknown
      result: { readingId: number }
    }
    expect(failure).toMatchObject({ code: 'rig-lost' })
    const readings = await host.core.readings.list({ campaignId })
    expect(readings.map(({ id }) => id)).toEqual([result.readingId])
    expect(rowsOf(readings[0]!).length).toBeGreaterThanOrEqual(3)
  })
})

describe('display, reference, display in one go', () => {
  it('asks for the reference and for the display again, keeps three runs and takes them together', async () => {
    const { host, campaignId } = await opened({ signalDelayS: 0.004 })
    const plan = latencyPlanSchema.parse({ refreshHz: 240, events: 8, interleave: true, afterS: 0.1 })
    const { jobId } = await host.core.latency.start({ campaignId, plan })
    const job = () => host.state().jobs.find(({ id }) => id === jobId)
    await host.until(() => job()?.asks !== '', 'the question for the reference')
    expect(job()).toMatchObject({ done: 4, total: 16, asks: expect.stringContaining('reference') as string })
    await host.core.jobs.proceed({ jobId })
    await host.until(() => /Back to the display/.test(job()?.asks ?? ''), 'the question for the display')
    expect(job()).toMatchObject({ done: 12, total: 16 })
    await host.core.jobs.proceed({ jobId })
    await host.until(() => job()?.state === 'finished', 'the end')
    expect(job()).toMatchObject({ asks: '' })
    await expect(host.core.jobs.proceed({ jobId })).rejects.toMatchObject({ code: 'not-found' })
    const runs = await host.core.latency.runs({ campaignId })
    expect(runs.map(({ plan: { reference, block, events } }) => [reference, block, events])).toEqual([
      [false, 'first', 4],
      [true, 'reference', 8],
      [false, 'last', 4],
    ])
    const part = latencyPart(await host.core.readings.list({ campaignId }))
    expect(part.display?.n).toBe(8)
    expect(part.reference?.n).toBe(8)
    expect(part.quantity.figures.map(({ label }) => label)).toContain('Drift, last run on the display minus first')
    // The same simulated display stood for the reference: a difference beyond 2.5 intervals is no chance.
    expect(Math.abs(part.signalDelay?.value ?? Infinity)).toBeLessThan(2.5 * (part.signalDelay?.u95 ?? 0))
  })

  it('is cancelled while it waits, and keeps the first run', async () => {
    const { host, campaignId } = await opened()
    const plan = latencyPlanSchema.parse({ refreshHz: 240, events: 4, interleave: true, afterS: 0.1 })
    const { jobId } = await host.core.latency.start({ campaignId, plan })
    const job = () => host.state().jobs.find(({ id }) => id === jobId)
    await host.until(() => job()?.asks !== '', 'the question')
    await host.core.jobs.cancel({ jobId })
    await host.until(() => job()?.state === 'cancelled', 'the cancel')
    expect(job()?.asks).toBe('')
    expect(await host.core.readings.list({ campaignId })).toHaveLength(1)
  })
})

describe('a rig with a second channel', () => {
  it('shows the event on it: the times are those of the trigger, the bounces are told, the records are kept', async () => {
    const { host, campaignId } = await opened({ eventChannel: true, bounceS: 0.002, signalDelayS: 0.006, seed: 9 })
    const outcome = await measure(host, campaignId, { refreshHz: 240, events: 6, afterS: 0.1 })
    expect(outcome).toMatchObject({ state: 'finished', result: { taken: 6, unclear: 0 } })
    const [run] = await host.core.latency.runs({ campaignId })
    const events = await host.store.latencyEvents({ runId: run!.id, from: 1, limit: 10 })
    for (const { trace, triggerIndex, second } of events) {
      expect(second?.samples).toHaveLength(trace.samples.length)
      const [own, byTrigger] = [eventLight(trace, triggerIndex, second), eventLight(trace, triggerIndex)]
      if (typeof own === 'string' || typeof byTrigger === 'string') throw new Error('no light')
      // The simulated trigger is the edge itself, at the sample after it.
      expect(Math.abs(own.halfS - byTrigger.halfS)).toBeLessThan(1.01 / trace.sampleRateHz)
      expect(own.bounces).toBe(2)
    }
    const [reading] = await host.core.readings.list({ campaignId })
    expect(reading?.note).toContain('6 events whose contact bounced')
  })

  it('is asked for where there is none, and left alone where the trigger counts', async () => {
    const { host, campaignId } = await opened()
    expect(await measure(host, campaignId, { refreshHz: 240, events: 2, event: 'channel-2' })).toMatchObject({
      state: 'failed',
      failure: { code: 'rig-unsuitable', message: 'The rig has no second channel to show the event.' },
    })
    await host.core.rig.connect({ kind: 'simulated', simulation: simulationSchema.parse({ eventChannel: true }) })
    await measure(host, campaignId, { refreshHz: 240, events: 2, event: 'trigger', afterS: 0.1 })
    const [run] = await host.core.latency.runs({ campaignId })
    expect((await host.store.latencyEvents({ runId: run!.id, from: 1, limit: 1 }))[0]?.second).toBeNull()
  })
})

describe('a record that is no longer as it was stored', () => {
  it('is named when the program starts, and does not keep it from starting', async () => {
    const folder = mkdtempSync(join(tmpdir(), 'slewlight-latency-'))
    const archive = join(folder, 'archive.sqlite')
    const store = await openTestStore(archive)
    const { id: campaignId } = await store.createCampaign({ name: 'Invented', display: '', note: '' })
    const plan = latencyPlanSchema.parse({ refreshHz: 60 })
    const { id: runId } = await store.createLatencyRun({ campaignId, plan, rigIdentity: 'Invented' })
    for (const position of [1, 2])
      await store.addLatencyEvent({
        runId,
        position,
        takenAt: '2030-01-01T00:00:00.000Z',
        triggerIndex: 400,
        handlerMs: null,
        second: null,
        trace: testTrace(position),
      })
    await store.close()
    const message = 'The record of event 2 of latency run 1 differs from what was stored.'
    const host = await openBenchCore({
      archive,
      beforeOperation: (name) => {
        if (name === 'latencyEvents') throw new AppError('archive-damaged', message)
      },
    })
    expect((await host.store.events({ limit: 10 })).map(({ text }) => text)).toContain(message)
    await host.close()
    rmSync(folder, { recursive: true, force: true })
  })
})
