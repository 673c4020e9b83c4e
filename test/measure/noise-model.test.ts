/** What the plateaus' noise model says of noise whose law is known, made here in closed form. */
import { describe, expect, it } from 'vitest'
import { sumVariance, type NoiseModel } from '#shared/measure/noise-model.ts'
import { plateauNoise } from '#shared/measure/noise.ts'
import { seriesOf } from '#shared/signal/series.ts'
import { noiseOf, type NoiseKind } from './sound.ts'
import { gaussian } from './waves.ts'

/** Models of many records of `before` and `after` samples at either level. */
function models(kind: NoiseKind, before: number, after: number, pole: number, runs: number): NoiseModel[] {
  const next = gaussian(before)
  return Array.from({ length: runs }, () => {
    const series = seriesOf(noiseOf(kind, before + after, pole, next))
    const model = plateauNoise(
      series,
      [
        [0, before],
        [before, before + after],
      ],
      0,
      0,
    )
    if (model === null) throw new Error('no noise found')
    return model
  })
}

/** Standard deviation of a mean of m samples. */
const ofMean = (model: NoiseModel, m: number): number => Math.sqrt(sumVariance(model, m)) / m

describe('memory of the noise', () => {
  it.each([
    [100, 400],
    [250, 750],
    [900, 3000],
  ])('white noise has none, but for one record of a hundred (%i and %i samples)', (before, after) => {
    const runs = 400
    const found = models('white', before, after, 0, runs)
    const wrong = found.filter(({ partsV2 }) => partsV2.length > 0)
    // Binomial, three standard deviations of chance on top of 1 %.
    expect(wrong.length).toBeLessThanOrEqual(Math.floor(0.01 * runs + 3 * Math.sqrt(0.01 * runs)))
    const ratios = found.map((model) => ofMean(model, before / 2) * Math.sqrt(before / 2)).sort((a, b) => a - b)
    expect(ratios[Math.floor(0.03 * runs)]).toBeGreaterThan(0.9)
    expect(ratios[Math.floor(0.97 * runs)]).toBeLessThan(1.1)
  })

  it('noise through one pole has that of the pole', () => {
    const pole = 0.06
    const phi = Math.exp(-2 * Math.PI * pole)
    const m = 200
    const exact = Math.sqrt((m * (1 + phi)) / (1 - phi) - (2 * phi * (1 - phi ** m)) / (1 - phi) ** 2) / m
    const ratios = models('one pole 1–10 kHz', 900, 3000, pole, 100).map((model) => ofMean(model, m) / exact)
    ratios.sort((a, b) => a - b)
    expect(ratios[5]).toBeGreaterThan(0.85)
    expect(ratios[50]).toBeGreaterThan(0.95)
    expect(ratios[50]).toBeLessThan(1.08)
    expect(ratios[95]).toBeLessThan(1.25)
  })

  it('1/f noise is told from white noise in every record', () => {
    for (const model of models('1/f', 900, 3000, 0, 60)) expect(model.partsV2.length).toBeGreaterThan(0)
  })
})
