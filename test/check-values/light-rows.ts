import { rankInterval } from '#shared/latency/rank-interval.ts'
import { contrast } from '#shared/light/contrast.ts'
import { fitGamma } from '#shared/light/gamma.ts'
import { calibrateDetector, luminanceFromVolts } from '#shared/light/photodiode.ts'
import { efficiency } from '#shared/light/power.ts'
import { uniformity } from '#shared/light/uniformity.ts'
import { bt1886Luminance, srgbToLight } from '../support/transfer-functions.ts'
import type { CheckRow } from './row.ts'

const COMPUTED = { source: 'closed form', provenance: 'computed' } as const
const ladderOf = (codes: readonly number[], light: (value: number) => number) =>
  codes.map((code) => ({ code, luminance: light(code / Math.max(...codes)) }))
const EIGHT = [32, 64, 96, 128, 160, 192, 224, 255]
const TENTHS = [1, 2, 3, 4, 5, 6, 7, 8, 9, 10]

const row = (
  id: string,
  quantity: string,
  unit: string,
  expected: number,
  tolerance: number,
  got: () => number | null,
): CheckRow => ({
  ...COMPUTED,
  id,
  quantity,
  unit,
  expected,
  tolerance,
  kind: 'absolute',
  got,
})
const NINE = uniformity([180, 190, 185, 188, 200, 192, 176, 189, 182])

export const LIGHT_ROWS: readonly CheckRow[] = [
  row(
    '59 contrast',
    'Contrast of 100 and 0.1 cd/m²',
    ': 1',
    1000,
    1e-6,
    () => contrast({ value: 100, u: 0 }, { value: 0.1, u: 0 })?.ratio ?? null,
  ),
  {
    ...row(
      '59 at least',
      'Contrast at least, 2 V over 0.4 ± 0.707 mV',
      ': 1',
      1194.19,
      0,
      () => contrast({ value: 2000, u: 0 }, { value: 0.4, u: Math.SQRT1_2 })?.ratio ?? null,
    ),
    kind: 'relative',
    tolerance: 1e-4,
    source: '95 % quantile of the normal distribution cut at 0',
  },
  {
    ...row(
      '59 below dark',
      'Contrast at least, 2 V over −0.3 ± 0.707 mV',
      ': 1',
      1662.85,
      0,
      () => contrast({ value: 2000, u: 0 }, { value: -0.3, u: Math.SQRT1_2 })?.ratio ?? null,
    ),
    kind: 'relative',
    tolerance: 1e-4,
    source: '95 % quantile of the normal distribution cut at 0',
  },
  row(
    '68 k',
    'Detector: 200 cd/m² at 2.010 V, dark 0.010 V',
    'cd/m²/V',
    100,
    1e-6,
    () => calibrateDetector({ value: 200, u: 4 }, 2.01, 0.01, 0.0005)?.scale ?? null,
  ),
  row('68 u', 'Relative uncertainty of that scale, meter 2 %, 0.5 mV', '%', 2.00031, 1e-5, () => {
    const found = calibrateDetector({ value: 200, u: 4 }, 2.01, 0.01, 0.0005)
    return found === null ? null : (100 * found.u) / found.scale
  }),
  row(
    '68 low',
    'Uncertainty of 5 cd/m² read by it',
    'cd/m²',
    Math.hypot(5 * 0.0200031, 100 * Math.SQRT2 * 0.0005),
    1e-6,
    () => {
      const found = calibrateDetector({ value: 200, u: 4 }, 2.01, 0.01, 0.0005)
      return found === null ? null : luminanceFromVolts(found, 0.06, 0.01, 0.0005).u
    },
  ),
  row(
    '69 sRGB',
    'Gamma of the sRGB curve, eight codes',
    '1',
    2.05524,
    1e-5,
    () => fitGamma(ladderOf(EIGHT, srgbToLight), 0)?.gamma ?? null,
  ),
  row(
    '69 sRGB five',
    'Gamma of the sRGB curve, codes 51 to 255 in fifths',
    '1',
    2.11642,
    1e-5,
    () => fitGamma(ladderOf([51, 102, 153, 204, 255], srgbToLight), 0)?.gamma ?? null,
  ),
  row(
    '69 power',
    'Gamma of V^2.2',
    '1',
    2.2,
    1e-9,
    () =>
      fitGamma(
        ladderOf(EIGHT, (v) => v ** 2.2),
        0,
      )?.gamma ?? null,
  ),
  row(
    '69 raised',
    'Gamma of V^2.2 with 0.1 % of black kept',
    '1',
    2.16144,
    1e-5,
    () =>
      fitGamma(
        ladderOf(EIGHT, (v) => 0.999 * v ** 2.2 + 0.001),
        null,
      )?.gamma ?? null,
  ),
  row(
    '69 BT.1886',
    'Gamma of BT.1886, 100 and 0.1 cd/m², black subtracted',
    '1',
    2.03574,
    1e-5,
    () =>
      fitGamma(
        ladderOf(TENTHS, (v) => bt1886Luminance(v, 100, 0.1)),
        0.1,
      )?.gamma ?? null,
  ),
  row(
    '69 BT.1886 raw',
    'Gamma of BT.1886, black kept',
    '1',
    1.99957,
    1e-5,
    () =>
      fitGamma(
        ladderOf(TENTHS, (v) => bt1886Luminance(v, 100, 0.1)),
        null,
      )?.gamma ?? null,
  ),
  row('69 worst', 'Largest residual of the sRGB curve’s line, ln', '1', 0.0942, 5e-5, () => {
    const found = fitGamma(ladderOf(EIGHT, srgbToLight), 0)
    return found === null ? null : Math.max(...found.points.map(({ residual }) => Math.abs(residual)))
  }),
  row(
    '70 min/max',
    'Uniformity of nine points, darkest over brightest',
    '1',
    0.88,
    1e-9,
    () => NINE?.minOverMax ?? null,
  ),
  row('70 centre', 'Darkest over centre', '1', 0.88, 1e-9, () => NINE?.minOverCentre ?? null),
  row('70 range', 'Range over mean', '1', 0.128419, 1e-6, () => NINE?.rangeOverMean ?? null),
  row('70 deviation', '200·(max − min)/(max + min)', '%', 12.76596, 1e-5, () => NINE?.deviationPct ?? null),
  row(
    '71',
    'Power for its light, 30 W, 200 cd/m², 0.200913 m²',
    'W/cd',
    0.74659,
    1e-5,
    () => efficiency(30, 200, 0.200913)?.wattsPerCd ?? null,
  ),
  ...(
    [
      [100, 0.5, 40, 61],
      [100, 0.95, 90, 100],
      [1000, 0.05, 37, 65],
      [1000, 0.5, 469, 532],
      [1000, 0.95, 936, 964],
      [1000, 0.99, 983, 997],
    ] as const
  ).flatMap(([n, q, low, high]) =>
    Object.entries({ low, high }).map(([end, rank]): CheckRow => {
      const [quantity, got] = [
        `${end === 'low' ? 'Lower' : 'Upper'} rank of the ${q} quantile of ${n} events`,
        () => rankInterval(n, q)[end as 'low' | 'high']?.rank ?? null,
      ]
      return { ...row(`72 ${n} ${q} ${end}`, quantity, 'rank', rank, 0, got), source: 'binomial law, exact' }
    }),
  ),
]
