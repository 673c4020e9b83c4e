/** Records that cannot be measured are taken again, on an instrument that shares no code with the simulated rig. */
import { afterEach, describe, expect, it } from 'vitest'
import { checkRecord } from '#main/core/record-verdict.ts'
import type { CaptureInfo } from '#shared/domain/capture.ts'
import { openIndependentBench, type InstrumentHabits } from '../support/independent-bench.ts'
import { planOf } from '../support/bench-core.ts'
import { capturesOf } from '../support/captures.ts'

type Bench = Awaited<ReturnType<typeof openIndependentBench>>
let bench: Bench | null = null
afterEach(async () => {
  await bench?.close()
  bench = null
})

const PLAN = { levels: [0, 160, 255], repeats: 2, postS: 0.2, preS: 0.05 }

async function sweptOn(habits: InstrumentHabits): Promise<Bench & { captures: CaptureInfo[]; log: string[] }> {
  const on = await openIndependentBench(habits)
  bench = on
  const campaign = await on.core.campaigns.create({ name: 'Invented', display: 'Invented', note: '' })
  const { id } = await on.core.sweeps.create({ campaignId: campaign.id, plan: planOf(PLAN) })
  await on.core.sweeps.start({ sweepId: id })
  await on.core.sweepIdle()
  expect(on.core.system.state().sweep).toMatchObject({ state: 'finished', done: 12, missing: 0 })
  const rows = await capturesOf(on.store, { recipeHash: on.core.system.state().recipeHash, sweepId: id })
  const log = (await on.store.events({ limit: 1000 })).map(({ text }) => text)
  return { ...on, captures: rows.map(({ info }) => info), log }
}

/** Milliseconds of light before and after the edge, by the instrument's own closed form: 50 % of the step in volts. */
async function roomOf(on: Bench, id: number): Promise<[number, number]> {
  const { samples, sampleRateHz } = await on.store.trace(id)
  const edge = (samples.at(0)! + samples.at(-1)!) / 2
  const rising = samples.at(-1)! > samples.at(0)!
  const at = samples.findIndex((code) => code > edge === rising)
  return [(1000 * at) / sampleRateHz, (1000 * (samples.length - at)) / sampleRateHz]
}

describe('a rig that accepts the level trigger', () => {
  it('and obeys it is left to it', async () => {
    const on = await sweptOn({ ignoresLevel: false })
    expect(on.captures.map(({ verdict }) => verdict)).toEqual(Array(12).fill('good'))
    expect(on.sources.filter((source) => source === 'INT')).toHaveLength(12)
    expect(on.log.filter((text) => text.includes('does not trigger'))).toEqual([])
  })

  it('and does not obey it is found out: its records are retaken, and the person is told', async () => {
    const on = await sweptOn({ ignoresLevel: true })
    const good = on.captures.filter(({ verdict }) => verdict === 'good')
    expect(good).toHaveLength(12)
    for (const { id } of good) {
      const [beforeMs, afterMs] = await roomOf(on, id)
      expect(beforeMs).toBeGreaterThan(25)
      expect(afterMs).toBeGreaterThan(100)
    }
    const bad = on.captures.filter(({ verdict }) => verdict !== 'good')
    expect(bad.length).toBe(2)
    expect(on.sources.filter((source) => source === 'INT')).toHaveLength(2)
    expect(on.log.filter((text) => text.includes('does not trigger on the light edge'))).toHaveLength(1)
  })
})

describe('a record of which most samples are unusable', () => {
  it('is kept as such and taken again', async () => {
    const on = await sweptOn({
      ignoresLevel: false,
      spoil: (codes, record) => {
        if (record === 6) codes.fill(-32_768, Math.floor(codes.length * 0.4))
      },
    })
    expect(on.captures.filter(({ verdict }) => verdict === 'gapped')).toHaveLength(1)
    expect(on.log.some((text) => text.includes('60 % of its samples are at the ends of the range'))).toBe(true)
  })

  it('is told by the share of samples at the rails, or no numbers, alone', () => {
    const plan = planOf(PLAN)
    const count = 5000
    const trace = (unusable: number) => ({
      format: 'real32' as const,
      samples: Float32Array.from({ length: count }, (_, i) =>
        i % 100 < unusable ? (i % 2 === 0 ? NaN : 5) : i < 1000 ? 0.1 : 3,
      ),
      sampleRateHz: 20_000,
      scaleV: 1,
      offsetV: 0,
      rangeV: 5,
    })
    const verdict = (unusable: number) => checkRecord(trace(unusable), 0.05, plan, { from: 0, to: 255 }, null).verdict
    expect([0, 50, 51, 100].map(verdict)).toEqual(['good', 'good', 'gapped', 'gapped'])
  })
})

describe('a record whose edge leaves no room for its level windows', () => {
  const plan = planOf(PLAN)
  const trace = {
    format: 'real32' as const,
    samples: Float32Array.from({ length: 5000 }, (_, i) => (i < 1000 ? 0.1 : 3)),
    sampleRateHz: 20_000,
    scaleV: 1,
    offsetV: 0,
    rangeV: 5,
  }
  // Of 50 ms before and 200 ms after the edge that were planned, half has to be there.
  it.each([
    [0.01, 'the light edge leaves 10 ms before it where 50 ms were planned'],
    [0.024, 'the light edge leaves 24 ms before it where 50 ms were planned'],
    [0.16, 'the light edge leaves 90 ms after it where 200 ms were planned'],
    [0.24, 'the light edge leaves 10 ms after it where 200 ms were planned'],
  ])('at %f s is taken again, and says why', (crossMidS, why) => {
    expect(checkRecord(trace, crossMidS, plan, { from: 0, to: 255 }, null)).toEqual({
      verdict: 'no-edge',
      why,
      misplaced: true,
    })
  })
  it.each([0.026, 0.05, 0.149])('at %f s is good', (crossMidS) => {
    expect(checkRecord(trace, crossMidS, plan, { from: 0, to: 255 }, null).verdict).toBe('good')
  })
  it.each([
    [0.4, 'no-edge'],
    [0.7, 'no-edge'],
    [1, 'good'],
    [3, 'good'],
  ])('that ends at %f V where the ladder has 0.1 and 3 V is told by its share of the step', (endV, verdict) => {
    const ladder = {
      steps: [0.1, 3].map((meanV, i) => ({ level: 255 * i, meanV, sdV: 0.001, peakToPeakV: 0.005 })),
      darkV: null,
      takenAt: '',
    }
    const samples = Float32Array.from({ length: 5000 }, (_, i) => (i < 1000 ? 0.1 : endV))
    expect(checkRecord({ ...trace, samples }, 0.05, plan, { from: 0, to: 255 }, ladder).verdict).toBe(verdict)
  })
})
