import type { RawTrace } from '#shared/domain/capture.ts'
import {
  lowRiskModulation,
  noEffectModulation,
  temporalSensitivity,
  visibleFlicker,
} from '#shared/measure/flicker-weights.ts'
import { readCycle } from '#shared/measure/periodic-cycle.ts'
import { measurePeriodic, type PeriodicId } from '#shared/measure/periodic.ts'
import type { CheckRow } from './row.ts'

function reading(id: PeriodicId, rate: number, seconds: number, light: (t: number) => number): () => number | null {
  return () => {
    const samples = Float32Array.from({ length: rate * seconds }, (_, i) => light(i / rate))
    const trace: RawTrace = { format: 'real32', samples, sampleRateHz: rate, scaleV: 1, offsetV: 0, rangeV: 10 }
    return measurePeriodic(trace, { darkV: 0 }).values[id]
  }
}

const sine = (f: number, m: number) => (t: number) => 1 + m * Math.sin(2 * Math.PI * f * t)
const rectified = (t: number) => Math.abs(Math.sin(2 * Math.PI * 50 * t))
const square =
  (f: number, duty: number, low = 0, high = 1) =>
  (t: number) =>
    (t * f + 1e-9) % 1 < duty ? high : low

const COMPUTED = { source: 'closed form', provenance: 'computed' } as const
const SVM = { source: 'IEC TR 63158 formula', provenance: 'from memory', unit: '' } as const
const PST = { source: 'IEC TR 61547-1 chain, constants read', provenance: 'computed', unit: '' } as const
const REPORT = { source: 'public report on IDMS 10.6, table 1', provenance: 'read' } as const
const example = () => visibleFlicker([{ frequencyHz: 17.86, relative: (2 * 0.0105) / 1.4662, u: 0 }])

const limits = [60, 100, 120, 240, 1000].flatMap((f, i): CheckRow[] => {
  const common = {
    unit: '%',
    tolerance: 1e-9,
    kind: 'absolute',
    source: 'IEEE 1789-2015',
    provenance: 'from memory',
  } as const
  return [
    {
      ...common,
      id: `26 low ${f}`,
      quantity: `Low-risk modulation at ${f} Hz`,
      expected: [1.5, 8, 9.6, 19.2, 80][i] as number,
      got: () => lowRiskModulation(f),
    },
    {
      ...common,
      id: `26 none ${f}`,
      quantity: `No-effect modulation at ${f} Hz`,
      expected: [0.6, 3.33, 3.996, 7.992, 33.3][i] as number,
      got: () => noEffectModulation(f),
    },
  ]
})

export const PERIODIC_ROWS: readonly CheckRow[] = [
  {
    id: '22a',
    quantity: 'Percent flicker of a full sine',
    unit: '%',
    expected: 100,
    tolerance: 5e-6,
    kind: 'relative',
    source: 'IES',
    provenance: 'from memory',
    got: reading('percent_flicker_pct', 50_000, 1, sine(100, 1)),
  },
  {
    id: '22b',
    quantity: 'Flicker index of a full sine',
    unit: '',
    expected: 0.31831,
    tolerance: 1.5e-4,
    kind: 'relative',
    source: 'IES',
    provenance: 'from memory',
    got: reading('flicker_index', 50_000, 1, sine(100, 1)),
  },
  {
    ...COMPUTED,
    id: '23',
    quantity: 'Flicker index, square of duty 0.2',
    unit: '',
    expected: 0.8,
    tolerance: 6e-7,
    kind: 'relative',
    got: reading('flicker_index', 50_000, 1, square(100, 0.2)),
  },
  {
    ...COMPUTED,
    id: '24a',
    quantity: 'Percent flicker, square 0.2/1 of duty 0.3',
    unit: '%',
    expected: 66.6667,
    tolerance: 7e-7,
    kind: 'relative',
    got: reading('percent_flicker_pct', 50_000, 1, square(100, 0.3, 0.2)),
  },
  {
    ...COMPUTED,
    id: '24b',
    quantity: 'Flicker index, square 0.2/1 of duty 0.3',
    unit: '',
    expected: 0.381818,
    tolerance: 1.3e-6,
    kind: 'relative',
    got: reading('flicker_index', 50_000, 1, square(100, 0.3, 0.2)),
  },
  {
    ...COMPUTED,
    id: '25',
    quantity: 'Flicker index of |sin|',
    unit: '',
    expected: 0.210514,
    tolerance: 2.3e-4,
    kind: 'relative',
    got: reading('flicker_index', 50_000, 1, rectified),
  },
  ...limits,
  ...(
    [
      ['27a', 'full sine 100 Hz', 3.9021, 1.2e-4, sine(100, 1)],
      ['27b', 'full sine 240 Hz', 2.412, 2e-4, sine(240, 1)],
      ['28a', 'square 100 Hz', 4.97041, 5e-5, square(100, 0.5)],
      ['28b', 'square 240 Hz', 3.07196, 5e-5, square(240, 0.5)],
      ['28c', 'square 480 Hz', 1.79419, 5e-5, square(480, 0.5)],
      ['29', '|sin| at 100 Hz', 2.60187, 1.9e-4, rectified],
    ] as const
  ).map(([id, what, expected, tolerance, light]): CheckRow => ({
    ...SVM,
    id,
    quantity: `SVM, ${what}`,
    expected,
    tolerance,
    kind: 'relative',
    got: reading('svm', 96_000, 1, light),
  })),
  ...(
    [
      ['30', 'square 1 Hz ±1 %', 0.99953, square(1, 0.5, 0.99, 1.01)],
      ['31a', 'sine 8.8 Hz ±0.4 %', 0.90366, sine(8.8, 0.004)],
      ['31b', 'sine 8.8 Hz ±1 %', 2.25915, sine(8.8, 0.01)],
    ] as const
  ).map(([id, what, expected, light]): CheckRow => ({
    ...PST,
    id,
    quantity: `PstLM, ${what}`,
    expected,
    tolerance: 2e-5,
    kind: 'relative',
    got: reading('pst_lm', 4000, 80, light),
  })),
  {
    ...PST,
    id: '32',
    quantity: 'PstLM at twice the modulation over PstLM',
    expected: 2,
    tolerance: 2.5e-5,
    kind: 'relative',
    got: () => {
      const once = reading('pst_lm', 4000, 80, sine(8.8, 0.004))()
      const twice = reading('pst_lm', 4000, 80, sine(8.8, 0.008))()
      return once === null || twice === null ? null : twice / once
    },
  },
  ...(
    [
      [17.86, 92.084],
      [42.86, 6.504],
      [53.57, 1.7513],
    ] as const
  ).map(([f, expected]): CheckRow => ({
    ...REPORT,
    id: `33 ${f}`,
    quantity: `Temporal contrast sensitivity at ${f} Hz`,
    unit: '',
    expected,
    tolerance: 5e-5,
    kind: 'relative',
    got: () => temporalSensitivity(f),
  })),
  {
    ...REPORT,
    id: '34',
    quantity: 'Visibility, K(0) = 1.4662, K(17.86) = 0.0105',
    unit: 'JND',
    expected: 1.3225,
    tolerance: 0.005,
    kind: 'relative',
    got: () => example()?.jnd ?? null,
  },
  {
    ...REPORT,
    id: '35a',
    quantity: '20·log(2P/K₀), same',
    unit: 'dB',
    expected: 2.4277,
    tolerance: 0.05,
    kind: 'absolute',
    got: () => example()?.dbAmplitude ?? null,
  },
  {
    ...REPORT,
    id: '35b',
    quantity: '10·log(P/K₀), same',
    unit: 'dB',
    expected: -1.7965,
    tolerance: 0.05,
    kind: 'absolute',
    got: () => example()?.dbHalf ?? null,
  },
  {
    id: '36',
    quantity: '20·log by the weight table, 10 % at 30 Hz',
    unit: 'dB',
    expected: -23,
    tolerance: 0.05,
    kind: 'absolute',
    source: 'VESA FPDM weight table',
    provenance: 'from memory',
    got: reading('table_db_amplitude', 4000, 8, sine(30, 0.1)),
  },
  {
    ...COMPUTED,
    id: '59',
    quantity: 'Michelson contrast of 100 and 0.1',
    unit: '',
    expected: 0.998002,
    tolerance: 1e-6,
    kind: 'absolute',
    got: () => (readCycle([100, 0.1]).percentFlicker ?? Number.NaN) / 100,
  },
]
