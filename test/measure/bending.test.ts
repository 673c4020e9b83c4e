import { describe, expect, it } from 'vitest'
import { bentBy, slopeOfMean } from '#shared/measure/bending.ts'
import { movingAverage } from '#shared/signal/moving-average.ts'
import { seriesOf } from '#shared/signal/series.ts'

const N = 4001
const WIDTH = 200
const MIDDLE = 2000
const meanOf = (f: (x: number) => number) =>
  seriesOf(movingAverage(seriesOf(Float64Array.from({ length: N }, (_, k) => f(k - MIDDLE))), WIDTH))

describe('what a mean adds to a signal', () => {
  it('is W²/24 of the second derivative where it is even: exact for a parabola', () => {
    expect(
      bentBy(
        meanOf((x) => 1e-4 * x * x),
        WIDTH,
        MIDDLE,
      ),
    ).toBeCloseTo((WIDTH ** 2 / 24) * 2e-4, 4)
  })

  it('is W/8 of the change of slope at a corner (closed form), which the mean itself hides', () => {
    const mean = meanOf((x) => Math.max(0, 0.01 * x))
    expect(mean.v[MIDDLE]).toBeCloseTo((0.01 * WIDTH) / 8, 4)
    expect(bentBy(mean, WIDTH, MIDDLE)).toBeCloseTo((0.01 * WIDTH) / 8, 3)
  })

  it('of an exponential is e^(x/τ)·(sinh(W/2τ)/(W/2τ) − 1)', () => {
    const tau = 400
    const half = WIDTH / 2 / tau
    const exact = Math.sinh(half) / half - 1
    const bent = bentBy(
      meanOf((x) => Math.exp(x / tau)),
      WIDTH,
      MIDDLE,
    )
    expect(bent / exact - 1).toBeLessThan(0.2)
    expect(bent / exact - 1).toBeGreaterThan(-0.2)
  })

  it('is nothing without a mean and on a straight line', () => {
    const line = meanOf((x) => 3 + 0.02 * x)
    expect(bentBy(line, 0, MIDDLE)).toBe(0)
    expect(bentBy(line, WIDTH, MIDDLE)).toBeCloseTo(0, 9)
    expect(slopeOfMean(line, WIDTH, MIDDLE)).toBeCloseTo(0.02, 9)
  })
})
