/** Check values of steps with a known answer. Sources beside the rows; "computed" is a closed form evaluated apart. */
import { describe, expect, it } from 'vitest'
import type { MeasureId } from '#shared/domain/measures.ts'
import type { RecipeInput } from '../support/recipe-input.ts'
import { normalCdf } from '#shared/signal/normal.ts'
import {
  firstOrder,
  linearRamp,
  measure,
  overdriven,
  raisedCosine,
  record,
  secondOrder,
  valueOf,
  type Recording,
  type Wave,
} from './waves.ts'

const ms = 1e-3
/** Volts of a unit wave: from 0.5 V to 2.5 V, so that a slip between volts and shares would show. */
const lift =
  (wave: Wave): Wave =>
  (t) =>
    0.5 + 2 * wave(t)

interface Row {
  readonly what: string
  readonly wave: Wave
  readonly id: MeasureId
  readonly expected: number
  /** Relative tolerance, or absolute with `absolute`. */
  readonly tolerance: number
  readonly absolute?: boolean
  readonly recipe?: Partial<RecipeInput>
  readonly options?: Recording
  readonly refreshHz?: number
}

const percent = (p: number): Partial<RecipeInput> => ({ duration: { kind: 'percent', percent: p } })
const dense: Recording = { rate: 200_000 }

const rows: Row[] = [
  // First-order τ ln((1−p)/p): textbook.
  {
    what: '10–90 of a first-order',
    wave: firstOrder(ms),
    id: 'transition_duration_s',
    expected: 2.197225 * ms,
    tolerance: 1e-3,
  },
  {
    what: '3–97',
    wave: firstOrder(ms),
    id: 'transition_duration_s',
    expected: 3.476099 * ms,
    tolerance: 1e-3,
    recipe: percent(3),
  },
  {
    what: '5–95',
    wave: firstOrder(ms),
    id: 'transition_duration_s',
    expected: 2.944439 * ms,
    tolerance: 1e-3,
    recipe: percent(5),
  },
  {
    what: '20–80',
    wave: firstOrder(ms),
    id: 'transition_duration_s',
    expected: 1.386294 * ms,
    tolerance: 1e-3,
    recipe: percent(20),
  },
  {
    what: '10–90 of a ramp of 10 ms',
    wave: linearRamp(10 * ms),
    id: 'transition_duration_s',
    expected: 8 * ms,
    tolerance: 1e-5,
    absolute: true,
  },
  // Gaussian edge: 2 Φ⁻¹(0.9) (Watson 2010, formula from memory).
  {
    what: 'Gaussian edge',
    wave: (t) => normalCdf((t - 5 * ms) / ms),
    id: 'transition_duration_s',
    expected: 2.563103 * ms,
    tolerance: 1e-3,
  },
  {
    what: 'raised cosine',
    wave: raisedCosine(10 * ms),
    id: 'transition_duration_s',
    expected: 5.90334 * ms,
    tolerance: 1e-3,
  },
  // Second order: textbook closed forms.
  {
    what: 'overshoot, ζ = 0.5',
    wave: secondOrder(0.5, 1000),
    id: 'overshoot_pct',
    expected: 16.30335,
    tolerance: 0.02,
    absolute: true,
    options: dense,
  },
  {
    what: 'overshoot, ζ = 1/√2',
    wave: secondOrder(Math.SQRT1_2, 1000),
    id: 'overshoot_pct',
    expected: 4.32139,
    tolerance: 0.02,
    absolute: true,
    options: dense,
  },
  {
    what: '10–90, ζ = 1/√2',
    wave: secondOrder(Math.SQRT1_2, 1000),
    id: 'transition_duration_s',
    expected: 2.148038 * ms,
    tolerance: 1e-3,
  },
  {
    what: 'dip after the overshoot, ζ = 0.5',
    wave: secondOrder(0.5, 1000),
    id: 'undershoot_pct',
    expected: 2.65799,
    tolerance: 0.02,
    absolute: true,
    options: dense,
  },
  // Overdriven two-exponential: computed.
  {
    what: 'overshoot of an overdriven step',
    wave: overdriven(0.2, ms, 4 * ms),
    id: 'overshoot_pct',
    expected: 5.20021,
    tolerance: 0.05,
    absolute: true,
    options: { rate: 100_000, post: 0.16 },
  },
  {
    what: '10–90 of an overdriven step',
    wave: overdriven(0.2, ms, 4 * ms),
    id: 'transition_duration_s',
    expected: 1.549116 * ms,
    tolerance: 1e-3,
    options: { rate: 200_000, post: 0.16 },
  },
  {
    what: 'two equal poles',
    wave: (t) => (t <= 0 ? 0 : 1 - (1 + t / ms) * Math.exp(-t / ms)),
    id: 'transition_duration_s',
    expected: 3.357909 * ms,
    tolerance: 1e-3,
  },
  // Hold-type blur edge 0.8/f (clause from memory), extended by 1.25.
  ...[60, 120, 144, 240].map((f): Row => ({
    what: `blur edge of an instant step at ${f} Hz`,
    wave: (t) => (t < 0 ? 0 : 1),
    id: 'blur_edge_s',
    expected: 0.8 / f,
    tolerance: 1e-3,
    refreshHz: f,
  })),
  {
    what: 'extended blur edge at 60 Hz',
    wave: (t) => (t < 0 ? 0 : 1),
    id: 'extended_blur_edge_s',
    expected: 16.6667 * ms,
    tolerance: 1e-3,
    refreshHz: 60,
  },
  // First-order ⊗ one frame: computed.
  ...(
    [
      [0.1, 0.815855],
      [0.3, 1.035356],
      [0.5, 1.378632],
      [1, 2.360727],
    ] as const
  ).map(([ratio, width]): Row => ({
    what: `blur edge, τ = ${ratio} T`,
    wave: firstOrder(ratio * 10 * ms),
    id: 'blur_edge_s',
    expected: width * 10 * ms,
    tolerance: 1e-3,
    refreshHz: 100,
    options: { post: 0.2 },
  })),
  {
    what: 'blur edge, 240 Hz, τ = 1 ms',
    wave: firstOrder(ms),
    id: 'blur_edge_s',
    expected: 3.95095 * ms,
    tolerance: 2e-3,
    refreshHz: 240,
  },
  // Gaussian edge time by least squares over −4 … +8 frames: computed with scipy, fine grid.
  ...(
    [
      [1e-6, 0.81974],
      [0.1, 0.848],
      [0.2, 0.9245],
      [0.3, 1.034],
      [0.5, 1.3149],
      [1, 2.185],
    ] as const
  ).map(([ratio, width]): Row => ({
    what: `Gaussian edge time, τ = ${ratio} T`,
    wave: firstOrder(ratio * 10 * ms),
    id: 'gaussian_edge_s',
    expected: width * 10 * ms,
    tolerance: 2e-3,
    refreshHz: 100,
    options: { post: 0.2 },
  })),
]

describe('steps with a known answer', () => {
  for (const falling of [false, true]) {
    it.each(rows)(`${falling ? 'falling' : 'rising'}: $what`, (row) => {
      const unit = falling ? (t: number): number => 1 - row.wave(t) : row.wave
      const result = measure(record(lift(unit), row.options), row.recipe, { refreshHz: row.refreshHz ?? null })
      const tolerance = row.absolute ? row.tolerance : row.tolerance * row.expected
      const value = valueOf(result, row.id)
      expect(Math.abs(value - row.expected), `${value} against ${row.expected}`).toBeLessThanOrEqual(tolerance)
    })
  }

  it('instant of the overshoot, ζ = 0.5: 3.627599/ω from the start of the step (textbook)', () => {
    const trace = record(secondOrder(0.5, 1000), dense)
    const { landmarks } = measure(trace)
    const start = trace.triggerIndex / trace.trace.sampleRateHz
    expect((landmarks.overshootAtS ?? 0) - start).toBeCloseTo(3.627599 * ms, 6)
  })

  it('arrival and settling of an overdriven step within 3 %: 2.088464 and 7.501041 τ (computed)', () => {
    const trace = record(overdriven(0.2, ms, 4 * ms), { rate: 200_000, post: 0.16 })
    const { landmarks } = measure(trace)
    const start = trace.triggerIndex / trace.trace.sampleRateHz
    expect((landmarks.arrivalAtS ?? 0) - start).toBeCloseTo(2.088464 * ms, 5)
    expect((landmarks.settledAtS ?? 0) - start).toBeCloseTo(7.501041 * ms, 5)
  })

  it('integrated error of a first-order step: what is left at the onset, 0.97 τ (closed form)', () => {
    expect(valueOf(measure(record(lift(firstOrder(ms)))), 'integrated_error_s')).toBeCloseTo(0.97 * ms, 6)
    // Over one τ from the onset: 0.97 τ (1 − 1/e).
    const result = measure(record(lift(firstOrder(ms))), { errorSpanS: ms })
    expect(valueOf(result, 'integrated_error_s')).toBeCloseTo(0.97 * ms * (1 - Math.exp(-1)), 6)
  })

  it('first-frame completion of a first-order step: 1 − 0.97 e^{−T/τ} one frame after the onset (closed form)', () => {
    const result = measure(record(lift(firstOrder(2 * ms))), {}, { refreshHz: 250 })
    expect(valueOf(result, 'first_frame_completion_pct')).toBeCloseTo(100 * (1 - 0.97 * Math.exp(-2)), 2)
  })

  it('0.35/bandwidth: t10–90 · f3dB of a first-order step is 0.349699 (textbook)', () => {
    const f3 = 1 / (2 * Math.PI * ms)
    const result = measure(record(lift(firstOrder(ms)), { rate: 1_000_000 }))
    expect(valueOf(result, 'transition_duration_s') * f3).toBeCloseTo(0.349699, 5)
  })

  it('detector removed by root-sum-square, two cascaded first orders with ratio 0.2: 2.229790 τ (computed)', () => {
    const r = 0.2
    const cascade: Wave = (t) => (t <= 0 ? 0 : 1 - (Math.exp(-t / ms) - r * Math.exp(-t / (r * ms))) / (1 - r))
    const detectorS = r * ms * Math.log(9)
    const result = measure(record(cascade, dense), { detectorS, correctDetector: true })
    const value = valueOf(result, 'transition_duration_corrected_s')
    expect(Math.abs(value / (2.22979 * ms) - 1)).toBeLessThan(1e-3)
    const u = result.uncertainties.transition_duration_corrected_s ?? 0
    expect(Math.abs(value - 2.197225 * ms)).toBeLessThan(2 * u)
  })

  it('a plateau read too early, five τ after the step, shortens the duration by 2.645 % (computed) and is flagged', () => {
    const trace = record(lift(firstOrder(ms)), { rate: 1_000_000, post: 5 * ms + 1e-6 })
    const end = (trace.trace.samples.length - 1) / trace.trace.sampleRateHz
    const result = measure(trace, {}, { override: { afterWindow: [end, end] } })
    const change = 100 * (valueOf(result, 'transition_duration_s') / (2.197225 * ms) - 1)
    expect(Math.abs(change - -2.645)).toBeLessThan(0.05)
    const usual = measure(trace)
    expect(usual.flags.map((flag) => flag.id)).toContain('plateau-not-reached')
  })

  it('eleven samples per transition err by at most 0.704 % at the worst phase (computed)', () => {
    let worst = 0
    for (let k = 0; k < 40; k++) {
      const rate = 11 / (2.197225 * ms)
      const shifted: Wave = (t) => firstOrder(ms)(t - k / 40 / rate)
      const value = valueOf(measure(record(shifted, { rate, pre: 0.1, post: 0.2 })), 'transition_duration_s')
      worst = Math.max(worst, 100 * (value / (2.197225 * ms) - 1))
    }
    expect(worst).toBeLessThan(0.704 + 0.02)
    expect(worst).toBeGreaterThan(0.5)
  })
})
