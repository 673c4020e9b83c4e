/** Where the step of a record is found, in light that comes in pulses: traces by closed form. */
import { describe, expect, it } from 'vitest'
import { findStepOf } from '#shared/measure/edge.ts'
import { seriesOf } from '#shared/signal/series.ts'

const PERIOD = 260
const WIDTH = 26
const STEP = 4000

/** Rectangular pulses of 1 before the step and of 1.7 after it, over a dark of 0.02; the record ends in a pulse. */
function pulses(endsIn: number, phase: number): Float64Array {
  const n = 60 * PERIOD + endsIn - phase
  return Float64Array.from({ length: n }, (_, i) => {
    if ((i + phase) % PERIOD >= WIDTH) return 0.02
    return i < STEP ? 1 : 1.7
  })
}

describe('the step of a strobed record', () => {
  it.each([1, 4, 13, 25])('is found where the record ends %d samples into a pulse', (endsIn) => {
    for (const phase of [0, 12, 100, 220]) {
      const series = seriesOf(pulses(endsIn, phase))
      expect(Math.abs((findStepOf(series, 1.68, PERIOD) ?? 0) - STEP)).toBeLessThan(PERIOD)
      // And where it begins in one.
      const reversed = seriesOf(pulses(endsIn, phase).toReversed())
      expect(Math.abs((findStepOf(reversed, 1.68, PERIOD) ?? 0) - (reversed.n - STEP))).toBeLessThan(PERIOD)
    }
  })
})

it('a step of steady light within the last refresh period is found where it is', () => {
  const series = seriesOf(Float64Array.from({ length: 5000 }, (_, i) => (i < 4900 ? 0.2 : 0.6)))
  expect(findStepOf(series, 0.4, PERIOD)).toBe(4900)
})
