/** Marks a person moves by hand: what is measured from them, under every kind of recipe. */
import { describe, expect, it } from 'vitest'
import { firstOrder, measure, record, traceOf } from './waves.ts'

const RATE = 100_000
/** Half a volt after a first-order step at t = 0, with a shelf of 0.6 V from 50 ms: what the end is, is a matter of view. */
const shelf = record((t) => 1 + firstOrder(0.002)(t) * 0.5 + (t > 0.03 ? 0.1 : 0))

describe('level windows moved by hand', () => {
  it.each([
    { levels: { kind: 'windows', statistic: 'mean', beforeShare: 0.6, afterShare: 0.2 } },
    { levels: { kind: 'windows', statistic: 'median', beforeShare: 0.6, afterShare: 0.2 } },
    { levels: { kind: 'histogram', bins: 64, statistic: 'mode' } },
    { levels: { kind: 'ladder' } },
  ] as const)('give the levels under $levels.kind', ({ levels }) => {
    const ladder = {
      steps: [
        { level: 0, meanV: 0.9, sdV: 0.001, peakToPeakV: 0.006 },
        { level: 255, meanV: 2, sdV: 0.001, peakToPeakV: 0.006 },
      ],
      darkV: null,
      takenAt: '2030-01-01T00:00:00.000Z',
    }
    const override = { beforeWindow: [0.005, 0.015] as const, afterWindow: [0.042, 0.05] as const }
    const moved = measure(shelf, { levels }, { ladder, override: asOverride(override) })
    expect(moved.landmarks.beforeV).toBeCloseTo(1, 4)
    expect(moved.landmarks.afterV).toBeCloseTo(1.5, 4)
    expect(moved.values.step_v).toBeCloseTo(0.5, 4)
    // 10–90 % of a first-order step is ln 9 time constants.
    expect(moved.values.transition_duration_s).toBeCloseTo(0.002 * Math.log(9), 5)
    // The end of the record is an excursion past the level that a person chose: 0.1 of 0.5 V.
    expect(moved.values.overshoot_pct).toBeCloseTo(20, 1)
    const own = measure(shelf, { levels }, { ladder })
    expect(Math.abs((own.values.step_v ?? 0) - 0.5)).toBeGreaterThan(0.02)
  })

  it('moves one level and leaves the other to the recipe', () => {
    const levels = { kind: 'histogram', bins: 64, statistic: 'mode' } as const
    const own = measure(shelf, { levels })
    const moved = measure(shelf, { levels }, { override: { afterWindow: [0.042, 0.05] } })
    expect(moved.landmarks.beforeV).toBe(own.landmarks.beforeV)
    expect(moved.landmarks.afterV).toBeCloseTo(1.5, 4)
  })

  it('needs no ladder when both levels are given by hand', () => {
    const override = asOverride({ beforeWindow: [0.005, 0.015], afterWindow: [0.042, 0.05] })
    const recipe = { levels: { kind: 'ladder' } } as const
    expect(measure(shelf, recipe, { ladder: null, override }).values.step_v).toBeCloseTo(0.5, 4)
    const half = { beforeWindow: [0.005, 0.015] as [number, number] }
    expect(measure(shelf, recipe, { ladder: null, override: half }).values.step_v).toBeNull()
  })

  it('refuses a window outside the analysed span', () => {
    const override = asOverride({ beforeWindow: [0, 0.005], span: [0.01, 0.09] })
    const { values, reasons } = measure(shelf, {}, { override })
    expect(values.transition_duration_s).toBeNull()
    expect(reasons.transition_duration_s).toMatch(/moved by hand lies outside the analysed span/)
  })
})

describe('crossings moved by hand', () => {
  it('give the duration between them, each alone or both', () => {
    const own = measure(shelf)
    const { crossLowS, crossHighS } = own.landmarks
    const both = measure(shelf, {}, { override: { crossLowS: 0.0205, crossHighS: 0.0265 } })
    expect(both.values.transition_duration_s).toBeCloseTo(0.006, 9)
    expect(both.landmarks).toMatchObject({ crossMidS: own.landmarks.crossMidS })
    expect(both.landmarks.crossLowS).toBeCloseTo(0.0205, 9)
    expect(both.landmarks.crossHighS).toBeCloseTo(0.0265, 9)
    const low = measure(shelf, {}, { override: { crossLowS: 0.0205 } })
    expect(low.values.transition_duration_s).toBeCloseTo((crossHighS ?? 0) - 0.0205, 9)
    const high = measure(shelf, {}, { override: { crossHighS: 0.0265 } })
    expect(high.values.transition_duration_s).toBeCloseTo(0.0265 - (crossLowS ?? 0), 9)
    // Nothing else moves with them.
    for (const id of ['arrival_s', 'settling_s', 'overshoot_pct', 'blur_edge_s', 'step_v'] as const)
      expect(both.values[id]).toBe(own.values[id])
  })

  it('count from the first sample of the record also when a span is cut out of it', () => {
    const override = { crossLowS: 0.0205, crossHighS: 0.0265, span: [0.01, 0.07] as [number, number] }
    const { landmarks, values } = measure(shelf, {}, { override })
    expect(landmarks.crossLowS).toBeCloseTo(0.0205, 9)
    expect(values.transition_duration_s).toBeCloseTo(0.006, 9)
  })

  it('give a duration where the machine finds none, known to the sample', () => {
    // Flat: there is no step to be found in it.
    const flat = { trace: traceOf(new Float64Array(2000).fill(1), RATE), triggerIndex: 500 }
    const { values, uncertainties, landmarks, reasons } = measure(
      flat,
      {},
      { override: { crossLowS: 0.004, crossHighS: 0.009 } },
    )
    expect(values.transition_duration_s).toBeCloseTo(0.005, 12)
    expect(uncertainties.transition_duration_s).toBeCloseTo(1 / RATE / Math.sqrt(6), 12)
    expect(landmarks).toMatchObject({ crossLowS: 0.004, crossHighS: 0.009, crossMidS: null })
    expect(reasons.transition_duration_s).toBeUndefined()
    expect(reasons.settling_s).not.toBe(undefined)
    const backwards = measure(flat, {}, { override: { crossLowS: 0.009, crossHighS: 0.004 } })
    expect(backwards.values.transition_duration_s).toBeNull()
    expect(backwards.reasons.transition_duration_s).toMatch(/do not follow/)
  })

  it('give a duration for a strobed backlight, which shows no crossings by itself', () => {
    const strobed = record((t) => (0.2 + 0.8 * firstOrder(0.004)(t)) * ((((t * 120) % 1) + 1) % 1 < 0.2 ? 5 : 0), {
      pre: 0.1,
      post: 0.2,
    })
    const own = measure(strobed, {}, { refreshHz: 120 })
    expect(own.reasons.transition_duration_s).toMatch(/strobes/)
    const moved = measure(strobed, {}, { refreshHz: 120, override: { crossLowS: 0.1, crossHighS: 0.11 } })
    expect(moved.values.transition_duration_s).toBeCloseTo(0.01, 9)
    expect(moved.landmarks.crossHighS).toBeCloseTo(0.11, 9)
    expect(moved.reasons.arrival_s).toMatch(/strobes/)
  })
})

function asOverride(marks: {
  readonly beforeWindow?: readonly [number, number]
  readonly afterWindow?: readonly [number, number]
  readonly span?: readonly [number, number]
}): { beforeWindow?: [number, number]; afterWindow?: [number, number]; span?: [number, number] } {
  return Object.fromEntries(Object.entries(marks).map(([name, [a, b]]) => [name, [a, b]]))
}
