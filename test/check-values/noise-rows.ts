import { addMean, addReading, beginWeights, weightsVariance } from '#shared/measure/linear-result.ts'
import { memoryOf, rawNoise, sigmaOfMean, type NoiseModel } from '#shared/measure/noise-model.ts'
import { roundingLeft } from '#shared/measure/residuals.ts'
import { crossingRate, extremeQuantile } from '#shared/signal/extremes.ts'
import { cornerPeak } from '#shared/signal/kink-fit.ts'
import { parabolaVertex } from '#shared/signal/line-fit.ts'
import { computedRow as row, type CheckRow } from './row.ts'

const COVARIANCES = 'closed form of the covariances of one pole, sampled; Var = Σ c_k·W(k)'

/** Noise of unit variance through one pole at this share of the sample rate. */
const pole = (share: number): NoiseModel => rawNoise(0, [1], Infinity, 1, memoryOf([1 / (2 * Math.PI * share)]))
const WHITE = rawNoise(1, [], Infinity)
const phi = (share: number): number => Math.exp(-2 * Math.PI * share)

function variance(noise: NoiseModel, weights: () => void): number {
  beginWeights()
  weights()
  return weightsVariance(noise)
}

/** Trapezium over n samples. */
function trapezium(from: number, n: number, weight: number): void {
  addMean(from, from + 1, weight / 2, 0)
  addMean(from + 1, from + n - 1, weight * (n - 2), 0)
  addMean(from + n - 1, from + n, weight / 2, 0)
}

/** The noise of a blur edge over its width for A/σ = 1: two means of W samples, 0.8 W apart, at the slope of a step. */
function blurNoise(noise: NoiseModel, width: number, apart: number): number {
  return Math.sqrt(
    variance(noise, () => {
      addMean(0, width, 1, 0)
      addMean(apart, apart + width, -1, 0)
    }),
  )
}

const kink = Float64Array.from({ length: 41 }, (_, i) => -Math.abs(i - 20))

/** Rows of noise with a memory, extremes, rounding and corners. */
export const NOISE_ROWS: readonly CheckRow[] = [
  ...(
    [
      [0.02, 15.93643, 0.125738],
      [0.06, 5.36785, 0.073171],
      [0.2, 1.79568, 0.042362],
    ] as const
  ).flatMap(([share, tau, sd]) => [
    row(
      `101 ${share}`,
      `Memory of one pole at ${share} of the rate, samples`,
      tau,
      1e-5,
      COVARIANCES,
      () => pole(share).correlation,
    ),
    row(`102 ${share}`, `Deviation of a mean of 1,000, one pole at ${share}`, sd, 1e-6, COVARIANCES, () =>
      sigmaOfMean(pole(share), 1000),
    ),
  ]),
  row(
    '103',
    'Variance of the difference of two means of 50, ten samples apart, one pole at 0.06',
    0.2034014,
    1e-7,
    COVARIANCES,
    () =>
      variance(pole(0.06), () => {
        addMean(0, 50, 1, 0)
        addMean(59, 109, -1, 0)
      }),
  ),
  row(
    '104',
    'Variance of a reading a quarter of the way between two samples, one pole at 0.06',
    0.882221,
    1e-6,
    COVARIANCES,
    () => variance(pole(0.06), () => addReading(10.25, 1, 1, 0)),
  ),
  ...(
    [
      ['white', WHITE, 22.32711, 54.79507],
      ['one pole at 0.06', pole(0.06), 51.6154, 126.21261],
    ] as const
  ).flatMap(([name, noise, plain, against]) => [
    row(`105 ${name}`, `Deviation of a trapezium over 500 samples, ${name}`, plain, 1e-5, COVARIANCES, () =>
      Math.sqrt(variance(noise, () => trapezium(0, 500, 1))),
    ),
    row(
      `106 ${name}`,
      `Deviation of a sum of 1,000 against the mean of its last 250, ${name}`,
      against,
      1e-5,
      COVARIANCES,
      () =>
        Math.sqrt(
          variance(noise, () => {
            trapezium(0, 1000, -1)
            addMean(750, 1000, 1000, 1)
          }),
        ),
    ),
  ]),
  row(
    '107 white',
    'Noise of a blur edge of 833 samples over its frame, A/σ = 1, white',
    0.0438134,
    1e-7,
    COVARIANCES,
    () => blurNoise(WHITE, 833, 666),
  ),
  row('107 one pole', 'The same, one pole at 0.06', 0.101312, 1e-7, COVARIANCES, () => blurNoise(pole(0.06), 833, 666)),
  row(
    '111 1e3',
    'Level the largest of 1,000 white samples stays under in 95 %',
    3.884398,
    1e-3,
    'quantile of the maximum, Φ⁻¹(0.95^(1/N))',
    () => extremeQuantile(1e3, 0, 0.95),
  ),
  row('111 1e4', 'The same of 10,000', 4.411649, 1e-3, 'quantile of the maximum, Φ⁻¹(0.95^(1/N))', () =>
    extremeQuantile(1e4, 0, 0.95),
  ),
  ...(
    [
      [0, 0.0222326],
      [0.6859, 0.0156817],
      [0.8819, 0.0101546],
    ] as const
  ).map(([rho, expected]) =>
    row(
      `112 ${rho.toFixed(4)}`,
      `Rate of passing 2 σ upward, neighbours correlated by ${rho.toFixed(4)}`,
      expected,
      1e-7,
      'bivariate normal integral (scipy)',
      () => crossingRate(2, rho),
    ),
  ),
  ...(
    [
      [0.02, 3.792, 3.768],
      [0.06, 3.865, 3.864],
      [0.2, 3.884, 3.892],
    ] as const
  ).flatMap(([share, formula, simulated]) => [
    row(
      `113 ${share}`,
      `Level the largest of 1,000 stays under in 95 %, one pole at ${share}`,
      formula,
      1e-3,
      'root of Φ(u)·exp(−(N−1)ν)',
      () => extremeQuantile(1e3, phi(share), 0.95),
    ),
    row(
      `113 ${share} simulated`,
      `The same against 20,000 simulated records (numpy)`,
      simulated,
      0.03,
      'simulation in numpy, 20,000 records',
      () => extremeQuantile(1e3, phi(share), 0.95),
    ),
  ]),
  ...(
    [
      [0.1, 0.192131],
      [0.2, 0.102307],
      [0.3, 0.038089],
      [0.5, 0.00161874],
    ] as const
  ).map(([sigma, expected]) =>
    row(
      `128 ${sigma}`,
      `Rounding that stays in a mean, σ = ${sigma} steps`,
      expected,
      1e-6,
      'Fourier series of the rounding error (Widrow), summed',
      () => roundingLeft(sigma),
    ),
  ),
  row(
    '134',
    'Parabola through a corner of slopes ±1, ten samples either side: too low by',
    -1.94,
    0.02,
    'least squares in numpy',
    () => parabolaVertex(kink, 10, 30, 20, 1)?.value ?? null,
  ),
  row(
    '134 corner',
    'Two lines through the same: too low by',
    0,
    1e-9,
    'closed form',
    () => cornerPeak(kink, 10, 30, 1, 1, null)?.value ?? null,
  ),
]
