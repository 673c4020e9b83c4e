/** Lines against values of scipy, closed forms, and noise that holds none. */
import { describe, expect, it } from 'vitest'
import { dpss } from '#shared/signal/dpss.ts'
import { fTail2, fUpper2 } from '#shared/signal/f-distribution.ts'
import { testLine } from '#shared/signal/line-test.ts'
import { findLines, strongestLine } from '#shared/signal/lines.ts'
import { seriesOf, type Series } from '#shared/signal/series.ts'
import { windowSpectrum } from '#shared/signal/spectrum.ts'
import { noiseOf, NOISE_KINDS, type NoiseKind } from '../measure/sound.ts'
import { distanceFromUniform } from '../support/uniform.ts'
import { gaussian } from '../measure/waves.ts'

const N = 2048
const noise = (kind: NoiseKind, seed: number, n = N): Float64Array => noiseOf(kind, n, 0.06, gaussian(seed))
const strongest = (series: Series, alpha: number, least = 0): number | null => {
  const spectrum = windowSpectrum(series, 0, series.n)
  return spectrum && (strongestLine(series, spectrum, { alpha, least, without: null })?.frequency ?? null)
}

describe('tapers', () => {
  it('are those of scipy.signal.windows.dpss(240, 6, 11), up to their sign', () => {
    const { tapers, sums } = dpss(240, 6, 11)
    const at50 = [
      0.00510204441708, 0.019581684362788, 0.048473606122556, 0.087024713594794, 0.114519655208434, 0.101954631234521,
    ]
    at50.forEach((value, k) => expect(Math.abs(Math.abs(tapers[k]![50]!) - value), `taper ${k}`).toBeLessThan(1e-10))
    const totals = [9.849051195466, 6.80767242801, 5.735035915264, 5.052760012503, 4.486695345909, 3.728605026437]
    totals.forEach((sum, i) => expect(Math.abs(Math.abs(sums[2 * i]!) - sum)).toBeLessThan(1e-8))
  })
  it('are orthonormal', () => {
    const { tapers } = dpss(96, 6, 11)
    tapers.forEach((a, i) =>
      tapers.forEach((b, j) =>
        expect(Math.abs(a.reduce((sum, x, t) => sum + x * b[t]!, 0) - (i === j ? 1 : 0))).toBeLessThan(1e-9),
      ),
    )
  })
})

it('the tail of F(2, 2m) is that of scipy.stats.f.isf(1e-5, 2, 2m)', () => {
  for (const [m, x] of [
    [3, 136.24766500859462],
    [4, 67.13117640163784],
    [6, 34.87752414350869],
  ] as const) {
    expect(Math.abs(fUpper2(1e-5, m) - x)).toBeLessThan(1e-3)
    expect(fTail2(fUpper2(1e-5, m), m)).toBeCloseTo(1e-5, 12)
  }
})

describe('a line', () => {
  it('at a place chosen beforehand has a p-value that is uniform in noise of any colour', () => {
    for (const kind of NOISE_KINDS) {
      const p = Array.from({ length: 400 }, (_, k) => {
        const test = testLine(seriesOf(noise(kind, k + 1)), 0, N, (20 + 2 * k) / N, 1, true)
        return test?.p ?? 0
      })
      // √n·D over 1.95 in one run of a thousand (Kolmogorov); the seeds are fixed.
      expect(distanceFromUniform(p), kind).toBeLessThan(1.95)
    }
  })

  it('is found in noise as seldom as the budget says: 5 % of records here', () => {
    for (const kind of NOISE_KINDS) {
      let found = 0
      for (let seed = 1; seed <= 400; seed++) if (strongest(seriesOf(noise(kind, seed)), 0.05) !== null) found++
      // Binomial: 20 expected at most, over 34 in one run of a thousand.
      expect(found, kind).toBeLessThanOrEqual(34)
    }
  })

  it('is found where it is as strong as A²N/4σ² = 82, and mostly at 46 (1 % of records false)', () => {
    for (const [strength, least] of [
      [82, 98],
      [46, 75],
    ] as const) {
      let found = 0
      for (let seed = 1; seed <= 100; seed++) {
        const amplitude = Math.sqrt((4 * strength) / N)
        const f = (40.03 + 9.37 * seed) / N
        const wave = noise('white', seed).map((y, k) => y + amplitude * Math.cos(2 * Math.PI * f * k + seed))
        const at = strongest(seriesOf(wave), 0.01)
        if (at !== null && Math.abs(at - f) < 1 / N) found++
      }
      expect(found, `A²N/4σ² = ${strength}`).toBeGreaterThanOrEqual(least)
    }
  })

  it('stands out of noise that is a thousand times stronger at other frequencies', () => {
    const slow = noiseOf('one pole 1–10 kHz', 4096, 0.002, gaussian(3))
    const series = seriesOf(slow.map((y, k) => y + 0.02 * Math.cos(2 * Math.PI * 0.31 * k)))
    expect(strongest(series, 0.01)).toBeCloseTo(0.31, 4)
  })

  it('may be pulses of light of three to eight periods, whose harmonics are one another’s neighbours', () => {
    for (const periods of [4.3, 5.4, 6.2, 7.5])
      for (const duty of [0.1, 0.3, 0.5]) {
        const wave = noise('white', 5, 4096).map((y, k) => 0.02 * y + (((k * periods) / 4096) % 1 < duty ? 1 : 0))
        const series = seriesOf(wave)
        const test = testLine(series, 0, 4096, (periods + 0.04) / 4096)
        expect(test?.p ?? 1, `${periods} periods, ${duty}`).toBeLessThan(1e-5)
      }
    for (const kind of NOISE_KINDS)
      for (let seed = 1; seed <= 200; seed++)
        expect(testLine(seriesOf(noise(kind, seed)), 0, N, (3 + (seed % 5)) / N)?.p ?? 0).toBeGreaterThan(1e-3)
  })

  it('is listed with others, strongest first, without harmonics where asked, and not under three periods', () => {
    const lines = [
      [0.05, 3],
      [0.1, 2],
      [0.23, 1],
    ] as const
    const wave = noise('white', 9).map(
      (y, k) => 0.3 * y + lines.reduce((sum, [f, a]) => sum + a * Math.cos(2 * Math.PI * f * k), 0),
    )
    const series = seriesOf(wave)
    const spectrum = windowSpectrum(series, 0, N)!
    const of = (without: number | null): number[] =>
      findLines(series, spectrum, { alpha: 0.01, least: 0, without, count: 8 }).map(({ frequency }) =>
        Number(frequency.toFixed(3)),
      )
    expect(of(null)).toEqual([0.05, 0.1, 0.23])
    expect(of(0.05)).toEqual([0.23])
    const slow = seriesOf(Float64Array.from({ length: N }, (_, k) => Math.cos((2 * Math.PI * 2.2 * k) / N)))
    expect(testLine(slow, 0, N, 2.2 / N)).toBeNull()
  })
})
