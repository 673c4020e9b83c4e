import { movingAverage } from '#shared/signal/moving-average.ts'
import { lowPassInPlace, lowPassSections } from '#shared/signal/low-pass.ts'
import { savitzkyGolay, savitzkyGolayWeights } from '#shared/signal/savitzky-golay.ts'
import { seriesOf } from '#shared/signal/series.ts'
import { firstOrder } from '../reference/waves.ts'
import type { CheckRow } from './row.ts'
import { measureWave } from './step-rows.ts'

const MS = 1e-3
const COMPUTED = { source: 'closed form', provenance: 'computed' } as const

function meanDuration(widthS: number): number | null {
  const condition = { kind: 'one-period-mean', frequencyHz: 1 / widthS, periods: 1 } as const
  const value = measureWave(firstOrder(MS), { condition }).values.transition_duration_s
  return value === null ? null : value / MS
}

/** Share of a sine of `frequency` (cycles per sample) left by a mean over `width` samples. */
function leftByMean(width: number, frequency: number): number {
  const values = Float64Array.from({ length: 20_000 }, (_, i) => Math.sin(2 * Math.PI * frequency * i))
  const out = movingAverage(seriesOf(values), width).subarray(5000, 15_000)
  return Math.max(...out)
}

function impulse(points: number, order: number, at: number): number {
  return savitzkyGolayWeights(points, order)[at] ?? Number.NaN
}

const step = Float64Array.from({ length: 2000 }, (_, i) => (i < 1000 ? 0 : 1))

export const CONDITIONING_ROWS: readonly CheckRow[] = [
  {
    ...COMPUTED,
    id: '37',
    quantity: 'Duration of first order (1 ms) under a mean of 4.1667 ms',
    unit: 'ms',
    expected: 3.950971,
    tolerance: 0.002,
    kind: 'relative',
    got: () => meanDuration(1 / 240),
  },
  {
    ...COMPUTED,
    id: '38',
    quantity: 'Duration of first order (1 ms) under a mean of 0.2 ms',
    unit: 'ms',
    expected: 2.197225,
    tolerance: 0.001,
    kind: 'relative',
    got: () => meanDuration(0.2 * MS),
  },
  {
    ...COMPUTED,
    id: '39a',
    quantity: 'Sine left by a mean of exactly one period',
    unit: '',
    expected: 0,
    tolerance: 1e-5,
    kind: 'absolute',
    got: () => leftByMean(200, 1 / 200),
  },
  {
    ...COMPUTED,
    id: '39b',
    quantity: 'Sine left by a mean that is 1 % off its period',
    unit: '',
    expected: 0.009899,
    tolerance: 1e-5,
    kind: 'absolute',
    got: () => leftByMean(2000, 1.01 / 2000),
  },
  ...[-3, 12, 17, 12, -3].map((weight, i): CheckRow => ({
    id: `40 ${i - 2}`,
    quantity: `Savitzky–Golay weight ${i - 2} of 5 points, order 2`,
    unit: '',
    expected: weight / 35,
    tolerance: 1e-12,
    kind: 'absolute',
    source: 'Savitzky & Golay 1964',
    provenance: 'from memory',
    got: () => impulse(5, 2, i),
  })),
  {
    ...COMPUTED,
    id: '41',
    quantity: 'Overshoot of an ideal step under Savitzky–Golay 11, order 2',
    unit: '%',
    expected: 8.391608,
    tolerance: 1e-5,
    kind: 'absolute',
    got: () => 100 * (Math.max(...savitzkyGolay(step, 11, 2)) - 1),
  },
  ...(['b0', 'b1', 'b2', 'a1', 'a2'] as const).map((key, i): CheckRow => ({
    ...COMPUTED,
    id: `42 ${key}`,
    quantity: `Butterworth of order 2 at a quarter of the sample rate, ${key}`,
    unit: '',
    expected: [0.292893, 0.585786, 0.292893, 0, 0.171573][i] as number,
    tolerance: 1e-6,
    kind: 'absolute',
    got: () => lowPassSections('butterworth-2', 250, 1000)?.[0]?.[key] ?? null,
  })),
  {
    ...COMPUTED,
    id: '43',
    quantity: 'Overshoot of a step through a Butterworth low-pass of order 4',
    unit: '%',
    expected: 10.8302,
    tolerance: 0.01,
    kind: 'absolute',
    got: () => {
      const sections = lowPassSections('butterworth-4', 1, 1000)
      if (sections === null) return null
      const values = Float64Array.from({ length: 8000 }, (_, i) => (i < 1000 ? 0 : 1))
      lowPassInPlace(values, sections, 'causal')
      return 100 * (values.reduce((a, b) => Math.max(a, b), 0) - 1)
    },
  },
]
