/** Closed form: an ideal step, averaged over one frame of T, rises linearly from the switch to T after it. */
import { describe, expect, it } from 'vitest'
import type { MatrixData } from '../../src-shared/domain/views.ts'
import { edgesAt } from '../../src-main/core/campaign/moving-edges.ts'

const RATE = 50_000
const TRIGGER = 1000
const DARK_V = 0.1

/** A step from `fromV` to `toV` at the trigger. */
function record(fromV: number, toV: number, triggerIndex = TRIGGER) {
  const samples = Float32Array.from({ length: 6000 }, (_, i) => (i < TRIGGER ? fromV : toV))
  const trace = { format: 'real32' as const, samples, sampleRateHz: RATE, scaleV: 1, offsetV: 0, rangeV: 5 }
  return { trace, triggerIndex }
}

function sweep(setting: string, refreshHz: number, first: number) {
  const entry = (captureId: number, excluded: boolean) => ({
    captureId,
    repeat: 1,
    values: {},
    flagCount: 0,
    excluded,
    overridden: false,
  })
  const matrix: MatrixData = {
    sweepId: first,
    recipeHash: '',
    levels: [0, 80, 160, 255],
    unmeasured: 0,
    cells: [{ from: 80, to: 160, entries: [entry(first, false), entry(first + 1, false), entry(first + 2, true)] }],
  }
  return { sweep: { setting, refreshHz, ladder: { steps: [], darkV: DARK_V, takenAt: '' } }, matrix }
}

const RECORDS: Readonly<Record<number, ReturnType<typeof record>>> = {
  1: record(0.3, 1.9),
  2: record(0.5, 2.3),
  3: record(9, 9),
  11: record(0.4, 1.1),
  12: record(0.4, 1.1),
  21: record(0.4, 2.1, 0),
  22: record(0.4, 2.1, 0),
}
const store = { inputs: async (ids: readonly number[]) => ids.map((id) => RECORDS[id]!) }

describe('moving edges of a campaign', () => {
  const sweeps = [sweep('Gentle', 100, 1), sweep('Strong', 100, 11), sweep('Gentle', 200, 21)]

  it('lie between levels that overdrive can act on, from the mean of the repeats that count, dark taken off', async () => {
    const edges = (await edgesAt(store, sweeps, { refreshHz: 100 }))!
    expect([edges.from, edges.to, edges.levels]).toEqual([80, 160, [0, 80, 160, 255]])
    expect(edges.pictures.map(({ name }) => name)).toEqual(['Gentle', 'Strong'])
    const { timeS, light } = edges.pictures[0]!.edge
    for (let i = 0; i < timeS.length; i++) {
      // Mean of the repeats less dark: 0.3 before, 2.0 after; a frame is 10 ms, the step lies within one sample.
      const share = Math.min(1, Math.max(0, timeS[i]! / 0.01))
      expect(Math.abs(light[i]! - (0.3 + 1.7 * share))).toBeLessThan(1.7 / (0.01 * RATE))
    }
    // One frame of the old picture before the switch, so that the dark side of the edge is seen.
    expect(timeS[0]).toBeCloseTo(-0.01, 6)
    expect(edges.peak).toBeCloseTo(2, 6)
  })

  it('can be asked for between any levels; a pair that was not captured has no picture', async () => {
    expect(await edgesAt(store, sweeps, { refreshHz: 100, levels: [160, 80] })).toMatchObject({
      from: 160,
      to: 80,
      pictures: [],
    })
  })

  it('have no picture of records that the light did not trigger, and are none at a rate that was not measured', async () => {
    expect((await edgesAt(store, sweeps, { refreshHz: 200 }))?.pictures).toEqual([])
    expect(await edgesAt(store, sweeps, { refreshHz: 60 })).toBeNull()
  })
})
