import type { MeasureId } from '#shared/domain/measures.ts'
import type { RecipeInput } from '../support/recipe-input.ts'
import type { Result } from '#shared/domain/result.ts'
import { measureCapture } from '#shared/measure/measure-capture.ts'
import { GAUSSIAN_10_90 } from '#shared/signal/normal.ts'
import {
  asTrace,
  firstOrder,
  gaussianEdge,
  inputOf,
  overdrive,
  raisedCosine,
  ramp,
  secondOrder,
  twoEqualPoles,
  twoPoles,
  type Wave,
} from '../reference/waves.ts'
import type { CheckRow } from './row.ts'

const MS = 1e-3
const COMPUTED = { source: 'closed form', provenance: 'computed' } as const
const instant: Wave = (t) => (t < 0 ? 0 : 1)

/** 200 kS/s from 20 ms before to 100 ms after the edge. */
export function measureWave(
  wave: Wave,
  recipe: Partial<RecipeInput> = {},
  refreshHz: number | null = 60,
  rateHz = 200_000,
): Result {
  const made = asTrace(wave, { rateHz, preS: 0.02, postS: 0.1 })
  return measureCapture(inputOf(made, recipe, { refreshHz }))
}

const value = (id: MeasureId, unit: number, ...args: Parameters<typeof measureWave>) => {
  return () => {
    const number = measureWave(...args).values[id]
    return number === null ? null : number / unit
  }
}

const duration = (
  id: string,
  what: string,
  expected: number,
  wave: Wave,
  tolerance = 0.001,
  recipe: Partial<RecipeInput> = {},
  extra: Partial<CheckRow> = {},
): CheckRow => ({
  ...COMPUTED,
  id,
  quantity: `Duration, ${what}`,
  unit: 'ms',
  expected,
  tolerance,
  kind: 'relative',
  got: value('transition_duration_s', MS, wave, recipe),
  ...extra,
})

const percent = (p: number): Partial<RecipeInput> => ({ duration: { kind: 'percent', percent: p } })
const band = (p: number): Partial<RecipeInput> => ({
  startBand: { kind: 'percent', percent: p },
  endBand: { kind: 'percent', percent: p },
})

/** A strobed backlight: `width` of light in each frame, opening `openS` after the edge, over a liquid crystal. */
export function strobed(wave: Wave, frameS: number, openS: number, widthS: number): Wave {
  return (t) => {
    const inFrame = (((t - openS) % frameS) + frameS) % frameS
    return inFrame < widthS ? wave(t) : 0
  }
}

/** Old and new light seen through a strobe, as volts over darkness. */
function measureStrobe(wave: Wave, refreshHz: number, openS: number, widthS: number, from: number, to: number): Result {
  const light: Wave = (t) => from + (to - from) * wave(t)
  const made = asTrace(strobed(light, 1 / refreshHz, openS, widthS), {
    rateHz: 500_000,
    preS: 0.1,
    postS: 0.2,
    fromV: 0,
    toV: 1,
  })
  return measureCapture(inputOf(made, {}, { refreshHz }))
}

export const STEP_ROWS: readonly CheckRow[] = [
  duration('1', '10–90 % of first order, τ = 1 ms', 2.197225, firstOrder(MS)),
  duration('2a', '3–97 % of first order', 3.476099, firstOrder(MS), 0.001, percent(3)),
  duration('2b', '5–95 % of first order', 2.944439, firstOrder(MS), 0.001, percent(5)),
  duration('2c', '20–80 % of first order', 1.386294, firstOrder(MS), 0.001, percent(20)),
  duration('3', '10–90 % of a ramp of 10 ms', 8, ramp(10 * MS), 0.005, {}, { kind: 'absolute' }),
  duration(
    '4',
    '10–90 % of a Gaussian edge, σ = 1 ms',
    2.563103,
    gaussianEdge(MS),
    0.001,
    {},
    {
      source: 'Watson 2010',
      provenance: 'from memory',
    },
  ),
  duration('5', '10–90 % of a raised cosine of 1 ms', 0.590334, raisedCosine(MS)),
  ...(
    [
      ['6a', 0.5, 16.30335],
      ['7a', Math.SQRT1_2, 4.32139],
    ] as const
  ).map(([id, damping, expected]): CheckRow => ({
    ...COMPUTED,
    id,
    quantity: `Overshoot, second order, damping ${damping.toPrecision(3)}`,
    unit: '%',
    expected,
    tolerance: 0.02,
    kind: 'absolute',
    got: value('overshoot_pct', 1, secondOrder(damping, 1000)),
  })),
  {
    ...COMPUTED,
    id: '6b',
    quantity: 'Instant of the peak from the edge, damping 0.5',
    unit: 'ms',
    expected: 3.627599,
    // The top is flat: a sample either side of it differs by 1e-5 of the step.
    tolerance: 0.01,
    kind: 'absolute',
    got: () => {
      const at = measureWave(secondOrder(0.5, 1000)).landmarks.overshootAtS
      return at === null ? null : (at - 0.02) / MS
    },
  },
  duration('7b', '10–90 % of second order, damping 0.707', 2.148038, secondOrder(Math.SQRT1_2, 1000)),
  {
    ...COMPUTED,
    id: '8',
    quantity: 'Dip after the overshoot, damping 0.5',
    unit: '%',
    expected: 2.65799,
    tolerance: 0.02,
    kind: 'absolute',
    got: value('undershoot_pct', 1, secondOrder(0.5, 1000)),
  },
  {
    ...COMPUTED,
    id: '9',
    quantity: 'Last entry within 2 % from the 50 % instant, damping 0.5',
    unit: 'ms',
    expected: 6.782311,
    tolerance: 0.002,
    kind: 'relative',
    got: () => {
      const { settledAtS, crossMidS } = measureWave(secondOrder(0.5, 1000), band(2)).landmarks
      return settledAtS === null || crossMidS === null ? null : (settledAtS - crossMidS) / MS
    },
  },
  ...(['beforeV', 'afterV'] as const).map((key, i): CheckRow => ({
    id: i === 0 ? '10a' : '10b',
    quantity: `State level by histogram mode, 100 bins, square 0/1, ${i === 0 ? 'low' : 'high'}`,
    unit: '',
    expected: i === 0 ? 0.005 : 0.995,
    tolerance: 1e-9,
    kind: 'absolute',
    source: 'IEEE 181 histogram method in public documentation',
    provenance: 'read',
    got: () => {
      const made = asTrace(instant, { rateHz: 100_000, preS: 0.05, postS: 0.1, fromV: 0, toV: 1 })
      const levels = { kind: 'histogram', bins: 100, statistic: 'mode' } as const
      return measureCapture(inputOf(made, { levels })).landmarks[key]
    },
  })),
  {
    ...COMPUTED,
    id: '11a',
    quantity: 'Overshoot, overdrive a = 0.2, 1 and 4 ms',
    unit: '%',
    expected: 5.20021,
    tolerance: 0.05,
    kind: 'absolute',
    got: value('overshoot_pct', 1, overdrive(0.2, MS, 4 * MS)),
  },
  duration('11b', '10–90 % of the same overdrive', 1.549116, overdrive(0.2, MS, 4 * MS)),
  duration('12', '10–90 % of two equal poles of 1 ms', 3.357909, twoEqualPoles(MS)),
  {
    ...COMPUTED,
    id: '13',
    quantity: 'Duration with a detector of a fifth removed by root-sum-square',
    unit: 'ms',
    expected: 2.22979,
    tolerance: 0.001,
    kind: 'relative',
    got: value('transition_duration_corrected_s', MS, twoPoles(MS, 0.2 * MS), {
      detectorS: 2.197225 * 0.2 * MS,
      correctDetector: true,
    }),
  },
  {
    id: '14',
    quantity: '10–90 % duration × 3 dB bandwidth, first order',
    unit: '',
    expected: 0.349699,
    tolerance: 1e-5,
    kind: 'absolute',
    source: 'textbook',
    provenance: 'computed',
    got: value('transition_duration_s', 2 * Math.PI * MS, firstOrder(MS)),
  },
  ...(
    [
      [60, 13.33333],
      [120, 6.66667],
      [144, 5.55556],
      [240, 3.33333],
    ] as const
  ).map(([refreshHz, expected]): CheckRow => ({
    id: `15 ${refreshHz} Hz`,
    quantity: `Blur edge of an instant step, hold, ${refreshHz} Hz`,
    unit: 'ms',
    expected,
    tolerance: 0.001,
    kind: 'relative',
    source: '0.8/f',
    provenance: 'from memory',
    got: value('blur_edge_s', MS, instant, {}, refreshHz),
  })),
  {
    id: '16',
    quantity: 'Extended blur edge of an instant step, hold, 60 Hz',
    unit: 'ms',
    expected: 16.66667,
    tolerance: 0.001,
    kind: 'relative',
    source: '1.25 × blur edge',
    provenance: 'from memory',
    got: value('extended_blur_edge_s', MS, instant),
  },
  ...(
    [
      [0.1, 0.815855],
      [0.3, 1.035356],
      [0.5, 1.378632],
      [1, 2.360727],
    ] as const
  ).map(([ratio, expected]): CheckRow => ({
    ...COMPUTED,
    id: `17 τ/T=${ratio}`,
    quantity: `Blur edge over the frame, first order, τ = ${ratio} T`,
    unit: '',
    expected,
    tolerance: 0.001,
    kind: 'relative',
    got: value('blur_edge_s', 1 / 120, firstOrder(ratio / 120), {}, 120),
  })),
  {
    ...COMPUTED,
    id: '18',
    quantity: 'Blur edge, 240 Hz, τ = 1 ms',
    unit: 'ms',
    expected: 3.95095,
    tolerance: 0.002,
    kind: 'relative',
    got: value('blur_edge_s', MS, firstOrder(MS), {}, 240),
  },
  {
    ...COMPUTED,
    id: '19',
    quantity: 'Blur edge of an instant step under a strobe of 1 ms, 125 Hz',
    unit: 'ms',
    expected: 0.8,
    tolerance: 0.005,
    kind: 'relative',
    got: () => {
      const edge = measureStrobe(instant, 125, 4 * MS, MS, 0.5, 4.5).values.blur_edge_s
      return edge === null ? null : edge / MS
    },
  },
  {
    id: '20',
    quantity: 'Width of a Gaussian edge in σ',
    unit: '',
    expected: 2.563103,
    tolerance: 1e-5,
    kind: 'absolute',
    source: 'Watson 2010',
    provenance: 'from memory',
    got: () => GAUSSIAN_10_90,
  },
  {
    ...COMPUTED,
    id: '21',
    quantity: 'First-pulse crosstalk, τ = 2 ms, opening 4 ms after, 1 ms wide',
    unit: '%',
    expected: 10.65006,
    tolerance: 0.001,
    kind: 'relative',
    got: () => measureStrobe(firstOrder(2 * MS), 125, 4 * MS, MS, 0.5, 4.5).values.first_pulse_crosstalk_pct,
  },
]
