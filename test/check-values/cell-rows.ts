/** Decisions, budgets of transitions and flicker under noise: numbers by scipy, closed forms or the GUM's examples. */
import type { RawTrace } from '#shared/domain/capture.ts'
import { cellBudget } from '#shared/findings/budget.ts'
import { readCycle } from '#shared/measure/periodic-cycle.ts'
import { measurePeriodic, type PeriodicId } from '#shared/measure/periodic.ts'
import { studentT95, studentTCdf } from '#shared/signal/distributions.ts'
import { studentTQuantile } from '../support/student.ts'
import { bartlettProbability, cochranCritical } from '#shared/signal/homogeneity.ts'
import { normalCdf } from '#shared/signal/normal.ts'
import { meanSd, meanUncertainty } from '#shared/signal/statistics.ts'
import { combineParts } from '#shared/signal/welch-satterthwaite.ts'
import { gaussian } from '../reference/waves.ts'
import type { CheckRow } from './row.ts'

/** GUM H.1: calibration of an end gauge, nm (inputs from memory, recomputed). */
const H1 = [
  { u: 25, dof: 18 },
  { u: 9.7, dof: 25.6 },
  { u: 2.9, dof: 50 },
  { u: 16.6, dof: 2 },
]

/** GUM H.2: five simultaneous sets of voltage (V), current (mA) and phase (rad); data from memory. */
const H2 = [
  [5.007, 19.663, 1.0456],
  [4.994, 19.639, 1.0438],
  [5.005, 19.64, 1.0468],
  [4.99, 19.685, 1.0428],
  [4.999, 19.678, 1.0433],
] as const
const impedance = (part: (z: number, phase: number) => number) =>
  meanUncertainty(H2.map(([v, i, phase]) => part(v / (i * 1e-3), phase)))

/** Share of 4,000 sound sweeps of 20 transitions with n captures that Bartlett's test doubts at 5 %. */
function bartlettTypeOne(n: number): number {
  const next = gaussian(40 + n)
  let doubted = 0
  for (let run = 0; run < 4000; run++) {
    const variances = Array.from({ length: 20 }, () => {
      const { s } = meanSd(Array.from({ length: n }, next))
      return { s2: (s ?? 0) ** 2, dof: n - 1 }
    })
    if (bartlettProbability(variances) < 0.05) doubted++
  }
  return doubted / 4000
}

/** A 1 % sine of 100 Hz under white noise, at 10 kS/s. */
function noisySine(noise: number, samples: number, next: () => number): Float32Array {
  return Float32Array.from({ length: samples }, (_, i) => 1 + 0.01 * Math.sin((2 * Math.PI * i) / 100) + noise * next())
}

function measured(id: PeriodicId, noise: number, runs: number): number | null {
  const next = gaussian(141)
  const values = Array.from({ length: runs }, () => {
    const samples = noisySine(noise, 10_000, next)
    const trace: RawTrace = { format: 'real32', samples, sampleRateHz: 10_000, scaleV: 1, offsetV: 0, rangeV: 10 }
    return measurePeriodic(trace, { darkV: 0 }).values[id]
  }).filter((value) => value !== null)
  return meanSd(values).mean
}

function plainPercentFlicker(): number | null {
  const next = gaussian(142)
  return meanSd(Array.from({ length: 400 }, () => readCycle(noisySine(0.05, 10_000, next)).percentFlicker ?? 0)).mean
}

const pooled = (cells: number): number | null =>
  cellBudget(3, { s: 1, dof: 2 * cells, pooledAs: 'size' }, [])?.u95 ?? null

const COMPUTED = { kind: 'absolute', provenance: 'computed', unit: '' } as const
const GUM_H2 = { ...COMPUTED, source: 'GUM H.2 (data from memory)', tolerance: 1e-4 } as const

export const CELL_ROWS: readonly CheckRow[] = [
  {
    ...COMPUTED,
    id: '136a',
    quantity: 'Conformance probability 1.645 u inside a limit',
    expected: 0.95002,
    tolerance: 1e-5,
    source: 'normal distribution (JCGM 106, from memory)',
    got: () => normalCdf(1.645),
  },
  {
    ...COMPUTED,
    id: '136b',
    quantity: 'The same 2 u inside, 4 degrees of freedom',
    expected: 0.941942,
    tolerance: 1e-6,
    source: 'Student’s t, scipy',
    got: () => studentTCdf(2, 4),
  },
  {
    ...COMPUTED,
    id: '137a',
    quantity: 'Effective degrees of freedom, end gauge',
    expected: 16.7646,
    tolerance: 1e-4,
    source: 'GUM H.1 (inputs from memory)',
    got: () => combineParts(H1).dof,
  },
  {
    ...COMPUTED,
    id: '137b',
    quantity: 't for 99 %, 16 degrees of freedom',
    expected: 2.920782,
    tolerance: 1e-5,
    source: 'GUM H.1, scipy',
    got: () => studentTQuantile(0.995, 16),
  },
  ...(
    [
      ['a', 'Resistance', 127.7316, 0.0713, (z: number, phase: number) => z * Math.cos(phase)],
      ['b', 'Reactance', 219.8469, 0.2955, (z: number, phase: number) => z * Math.sin(phase)],
      ['c', 'Impedance', 254.26, 0.2362, (z: number) => z],
    ] as const
  ).flatMap(([letter, quantity, mean, u, part]): CheckRow[] => [
    { ...GUM_H2, id: `138${letter}`, quantity, unit: 'Ω', expected: mean, got: () => impedance(part).mean },
    {
      ...GUM_H2,
      id: `138${letter} u`,
      quantity: `${quantity}, u`,
      unit: 'Ω',
      expected: u,
      got: () => impedance(part).u,
    },
  ]),
  {
    ...COMPUTED,
    id: '139a',
    quantity: 'U95 over s of three repeats alone',
    expected: 2.484138,
    tolerance: 1e-6,
    source: 'Student’s t, scipy',
    got: () => studentT95(2) / Math.sqrt(3),
  },
  ...(
    [
      ['b', 5, 1.286417],
      ['c', 20, 1.166868],
    ] as const
  ).map(([letter, cells, expected]): CheckRow => ({
    ...COMPUTED,
    id: `139${letter}`,
    quantity: `The same, s pooled over ${cells} transitions`,
    expected,
    tolerance: 1e-6,
    source: 'GUM 4.2.4, scipy',
    got: () => pooled(cells),
  })),
  ...(
    [
      ['a', 3, 0.270459],
      ['b', 5, 0.192139],
    ] as const
  ).map(([letter, n, expected]): CheckRow => ({
    ...COMPUTED,
    id: `140${letter}`,
    quantity: `Cochran’s C at 5 %, 20 groups of ${n}`,
    expected,
    tolerance: 1e-6,
    source: 'formula, scipy',
    got: () => cochranCritical(n - 1, 20 * (n - 1), 20, 0.05),
  })),
  {
    ...COMPUTED,
    id: '140c',
    quantity: 'False alarms of Bartlett’s test at 5 %, 20 groups of 3',
    expected: 0.041,
    tolerance: 0.01,
    source: '4,000 runs in numpy',
    got: () => bartlettTypeOne(3),
  },
  ...(
    [
      ['a', 0.005, 0.00361661, 2e-5],
      ['b', 0.05, 0.02014609, 1e-4],
    ] as const
  ).map(([letter, noise, expected, tolerance]): CheckRow => ({
    ...COMPUTED,
    id: `141${letter}`,
    quantity: `Flicker index read plainly off a 1 % sine under ${100 * noise} % noise`,
    expected,
    tolerance,
    source: 'integral in scipy',
    got: () => readCycle(noisySine(noise, 1_000_000, gaussian(7))).flickerIndex,
  })),
  {
    ...COMPUTED,
    id: '141c',
    quantity: 'Flicker index as measured under 5 % noise, mean of 40',
    expected: 0.01 / Math.PI,
    // Three standard errors of 0.00022 each.
    tolerance: 1.1e-4,
    source: 'closed form',
    got: () => measured('flicker_index', 0.05, 40),
  },
  {
    ...COMPUTED,
    id: '142a',
    quantity: 'Percent flicker read plainly off a 1 % sine under 5 % noise, mean of 400',
    unit: '%',
    expected: 19.4,
    tolerance: 0.2,
    source: '400 runs in numpy',
    got: plainPercentFlicker,
  },
  {
    ...COMPUTED,
    id: '142b',
    quantity: 'Percent flicker as measured under 5 % noise, mean of 40',
    unit: '%',
    expected: 1,
    // Three standard errors of 0.07 each, and the few unseen, which are the weakest.
    tolerance: 0.06,
    source: 'closed form',
    got: () => measured('percent_flicker_pct', 0.05, 40),
  },
]
