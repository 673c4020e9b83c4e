import { fc } from '../support/fast-check.ts'
import { describe, expect, it } from 'vitest'
import { MEASURE_IDS, type MeasureId } from '#shared/domain/measures.ts'
import type { FlagId } from '#shared/domain/result.ts'
import {
  compareSample,
  sampledSweeps,
  spreadSample,
  type SampledCapture,
  type SampledResult,
} from '#shared/findings/recipe-sample.ts'

const PAIRS = [
  [0, 128],
  [128, 0],
  [0, 255],
  [255, 0],
] as const
const captures = (perCell: number, sweeps = 1) =>
  Array.from({ length: sweeps }, (_, sweep) =>
    PAIRS.flatMap(([from, to]) => Array.from({ length: perCell }, () => ({ sweepId: sweep + 1, from, to }))),
  )
    .flat()
    .map((item, i) => ({ ...item, captureId: i + 1 }))

describe('a spread sample', () => {
  it('takes one of every transition before any second one, of each sweep', () => {
    const sample = spreadSample(captures(10, 3), 12, 1)
    expect(new Set(sample.map(({ sweepId, from, to }) => `${sweepId} ${from} ${to}`)).size).toBe(12)
    const larger = spreadSample(captures(10, 3), 30, 1)
    const counts = new Map<string, number>()
    for (const { sweepId, from, to } of larger) {
      const key = `${sweepId} ${from} ${to}`
      counts.set(key, (counts.get(key) ?? 0) + 1)
    }
    expect(counts.size).toBe(12)
    expect([...counts.values()].every((n) => n === 2 || n === 3)).toBe(true)
  })

  it('is the same for the same seed, another for another, and all of it when there is no more', () => {
    const items = captures(50)
    const ids = (seed: number) => spreadSample(items, 20, seed).map(({ captureId }) => captureId)
    expect(ids(7)).toEqual(ids(7))
    expect(ids(7)).not.toEqual(ids(8))
    expect(spreadSample(items, 200, 1)).toEqual(items)
    expect(spreadSample([], 10, 1)).toEqual([])
  })

  it('never takes a capture twice and keeps the order', () => {
    fc.assert(
      fc.property(fc.integer({ min: 1, max: 8 }), fc.integer({ min: 1, max: 40 }), fc.nat(), (perCell, count, seed) => {
        const items = captures(perCell)
        const ids = spreadSample(items, count, seed).map(({ captureId }) => captureId)
        expect(ids).toHaveLength(Math.min(count, items.length))
        expect(ids).toEqual([...new Set(ids)].sort((a, b) => a - b))
      }),
    )
  })
})

function result(values: Partial<Record<MeasureId, number>>, flags: FlagId[] = []): SampledResult {
  return {
    values: Object.fromEntries(MEASURE_IDS.map((id) => [id, values[id] ?? null])) as SampledResult['values'],
    flags,
  }
}
const sampled = (
  captureId: number,
  [from, to]: readonly [number, number],
  a: SampledResult | null,
  b: SampledResult | null,
  sweepId = 1,
): SampledCapture => ({ captureId, sweepId, from, to, a, b })

const DURATION = 'transition_duration_s'

describe('a sample under two recipes', () => {
  const some = [
    sampled(1, [0, 128], result({ [DURATION]: 0.01 }), result({ [DURATION]: 0.012 })),
    sampled(2, [0, 128], result({ [DURATION]: 0.02 }), result({ [DURATION]: 0.022 }, ['clipped'])),
    sampled(3, [128, 0], result({ [DURATION]: 0.03 }, ['hum', 'clipped']), result({ [DURATION]: 0.025 })),
    sampled(4, [0, 255], result({ [DURATION]: 0.04 }), result({})),
    sampled(5, [255, 0], result({}), result({ [DURATION]: 0.05 })),
    sampled(6, [255, 0], result({ [DURATION]: 0.05 }), null),
  ]
  const compared = compareSample(some, { measure: DURATION })

  it('takes differences capture by capture, over those with a value under both', () => {
    const shift = compared.measures.find(({ measure }) => measure === DURATION)
    expect(shift).toMatchObject({ n: 3, u95: null, onlyA: 2, onlyB: 1 })
    expect(shift?.a).toBeCloseTo(0.02, 12)
    expect(shift?.difference).toBeCloseTo((0.002 + 0.002 - 0.005) / 3, 12)
  })

  it('counts doubts and failures on each side', () => {
    expect(compared.flagged).toEqual({ a: 1, b: 1 })
    expect(compared.flags).toEqual([
      { flag: 'clipped', a: 1, b: 1 },
      { flag: 'hum', a: 1, b: 0 },
    ])
    expect(compared.failed).toEqual({ a: 0, b: 1 })
  })

  it('lists the transitions that move most, and none that does not', () => {
    expect(compared.cells.map(({ from, to, n }) => [from, to, n])).toEqual([
      [128, 0, 1],
      [0, 128, 2],
    ])
    expect(compared.cellCount).toBe(4)
    expect(compareSample(some, { measure: 'snr' }).cells).toEqual([])
  })

  it('sums up sweep by sweep and never mixes them', () => {
    const two = [...some, sampled(7, [0, 128], result({ [DURATION]: 1 }), result({ [DURATION]: 3 }), 2)]
    const limits = { darkCode: 128, overshootLimitPct: 5 }
    const sweeps = sampledSweeps(two, DURATION, limits, limits)
    expect(sweeps.map(({ sweepId, n }) => [sweepId, n])).toEqual([
      [1, 6],
      [2, 1],
    ])
    const mean = sweeps[1]?.summaries.find(({ name }) => name === 'mean')
    expect(mean).toMatchObject({ a: { value: 1 }, b: { value: 3 }, difference: 2 })
  })

  it('answers nothing from nothing', () => {
    const empty = compareSample([], { measure: DURATION })
    expect(empty.measures.every(({ n, difference }) => n === 0 && difference === null)).toBe(true)
    expect([empty.cells, empty.flags, empty.cellCount]).toEqual([[], [], 0])
  })
})
