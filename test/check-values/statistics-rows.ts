import { grubbsCritical, grubbsTest, medianDeviation } from '#shared/signal/outliers.ts'
import { studentT95 } from '#shared/signal/distributions.ts'
import { meanUncertainty } from '#shared/signal/statistics.ts'
import { bt1886Luminance, srgbToLight } from '../support/transfer-functions.ts'
import type { CheckRow } from './row.ts'

/** GUM (JCGM 100) 4.4.3: twenty temperatures, °C; data from memory. */
export const GUM = [
  96.9, 98.18, 98.25, 98.61, 99.03, 99.49, 99.56, 99.74, 99.89, 100.07, 100.33, 100.42, 100.68, 100.95, 101.11, 101.2,
  101.57, 101.84, 102.36, 102.72,
]
/** Tietjen–Moore uranium data of the NIST e-Handbook; data from memory. */
export const URANIUM = [199.31, 199.53, 200.19, 200.82, 201.92, 201.95, 202.18, 245.57]

interface Short {
  readonly id: string
  readonly quantity: string
  readonly expected: number
  readonly tolerance: number
  readonly source: string
  readonly provenance: CheckRow['provenance']
  readonly got: () => number | null
}

const rows: Short[] = [
  {
    id: '44a',
    quantity: 'Mean, 20 temperatures',
    expected: 100.145,
    tolerance: 5e-11,
    source: 'GUM 4.4.3',
    provenance: 'from memory',
    got: () => meanUncertainty(GUM).mean,
  },
  {
    id: '44b',
    quantity: 'Standard deviation, same',
    expected: 1.489,
    tolerance: 0.0005,
    source: 'GUM 4.4.3',
    provenance: 'from memory',
    got: () => meanUncertainty(GUM).s,
  },
  {
    id: '44c',
    quantity: 'Standard uncertainty, same',
    expected: 0.333,
    tolerance: 0.0005,
    source: 'GUM 4.4.3',
    provenance: 'from memory',
    got: () => meanUncertainty(GUM).u,
  },
  ...(
    [
      [4, 2.78],
      [9, 2.26],
      [19, 2.09],
    ] as const
  ).map(([dof, expected]) => ({
    id: `45 ν=${dof}`,
    quantity: `t-factor for 95 %, ${dof} degrees of freedom`,
    expected,
    tolerance: 0.005,
    source: 'NIST TN 1297 table B.1',
    provenance: 'read' as const,
    got: () => studentT95(dof),
  })),
  {
    id: '46a',
    quantity: 'Grubbs critical value, n = 10, 0.05, two-sided',
    expected: 2.29,
    tolerance: 5e-4,
    source: 'LibreTexts Analytical Chemistry appendix 7',
    provenance: 'read',
    got: () => grubbsCritical(10, 0.05, 'two'),
  },
  {
    id: '46b',
    quantity: 'Grubbs critical value, n = 10, 0.05, one-sided',
    expected: 2.1761,
    tolerance: 5e-4,
    source: 'closed form',
    provenance: 'computed',
    got: () => grubbsCritical(10, 0.05, 'one'),
  },
  {
    id: '47a',
    quantity: 'Grubbs G, uranium data',
    expected: 2.46876,
    tolerance: 5e-6,
    source: 'NIST e-Handbook (Tietjen–Moore data)',
    provenance: 'from memory',
    got: () => grubbsTest(URANIUM, 0.05, 'largest')?.g ?? null,
  },
  {
    id: '47b',
    quantity: 'Grubbs critical value, same',
    expected: 2.03165,
    tolerance: 5e-6,
    source: 'closed form',
    provenance: 'computed',
    got: () => grubbsTest(URANIUM, 0.05, 'largest')?.critical ?? null,
  },
  {
    id: '48a',
    quantity: 'Median, same data',
    expected: 201.37,
    tolerance: 5e-11,
    source: 'closed form',
    provenance: 'computed',
    got: () => medianDeviation(URANIUM)?.median ?? null,
  },
  {
    id: '48b',
    quantity: 'MAD, same',
    expected: 0.995,
    tolerance: 5e-11,
    source: 'closed form',
    provenance: 'computed',
    got: () => medianDeviation(URANIUM)?.mad ?? null,
  },
  {
    id: '48c',
    quantity: 'MAD as a standard deviation, same',
    expected: 1.47519,
    tolerance: 5e-6,
    source: 'closed form',
    provenance: 'computed',
    got: () => medianDeviation(URANIUM)?.sigma ?? null,
  },
  ...(
    [
      [51, 0.033104767],
      [128, 0.2158605],
      [188, 0.502886458],
    ] as const
  ).map(([code, expected]) => ({
    id: `49 ${code}`,
    quantity: `sRGB light of code ${code}`,
    expected,
    tolerance: 1e-8,
    source: 'IEC 61966-2-1',
    provenance: 'computed' as const,
    got: () => srgbToLight(code / 255),
  })),
  {
    id: '50',
    quantity: 'BT.1886, white 100, black 0.1, V = 0.5',
    expected: 21.6049112,
    tolerance: 1e-6,
    source: 'BT.1886',
    provenance: 'computed',
    got: () => bt1886Luminance(0.5, 100, 0.1),
  },
]

export const STATISTICS_ROWS: readonly CheckRow[] = rows.map((row) => ({ ...row, unit: '', kind: 'absolute' }))
