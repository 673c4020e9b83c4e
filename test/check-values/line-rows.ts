import { fUpper2 } from '#shared/signal/f-distribution.ts'
import { normalQuantile, studentTUpper } from '#shared/signal/distributions.ts'
import { computedRow as row, type CheckRow } from './row.ts'

/** Šidák's share of α for one of `m` tests. */
const sidak = (alpha: number, m: number): number => -Math.expm1(Math.log1p(-alpha) / m)

/** Limits of detectors from their laws. */
export const LINE_ROWS: readonly CheckRow[] = [
  ...(
    [
      [4, 136.01504],
      [5, 67.04203],
      [7, 34.84337],
    ] as const
  ).map(([k, expected]) =>
    row(
      `116 K=${k}`,
      `Harmonic F-test, limit for 1 % over 1,000 places, ${k} tapers`,
      expected,
      1e-3,
      'scipy.stats.f.isf; Percival & Walden 1993, eq. 499',
      () => fUpper2(sidak(0.01, 1000), k - 1),
    ),
  ),
  row('122a', 'Šidák, 12 tests at 1 %: share of one', 8.371774e-4, 1e-9, 'closed form', () => sidak(0.01, 12)),
  row(
    '122b',
    'The same, normal, two-sided',
    3.340201,
    1e-6,
    'scipy.stats.norm',
    () => -normalQuantile(sidak(0.01, 12) / 2),
  ),
  row('122c', 'The same, Student’s t, 10 degrees of freedom', 4.703447, 1e-6, 'scipy.stats.t', () =>
    studentTUpper(sidak(0.01, 12) / 2, 10),
  ),
]
