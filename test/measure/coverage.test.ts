import { describe, expect, it } from 'vitest'
import { measureCapture } from '#shared/measure/measure-capture.ts'
import { meanUncertainty } from '#shared/signal/statistics.ts'
import { asTrace, firstOrder, inputOf, overdrive, uniform } from '../reference/waves.ts'

const MS = 1e-3

/** 2,000 cells of 5 to 10 repeats at random signal-to-noise and sampling phase. */
function coverage(step: (t: number) => number, truth: number): { share: number; cells: number; meanU95: number } {
  const random = uniform(31)
  let inside = 0
  let cells = 0
  let sum = 0
  for (let cell = 0; cell < 2000; cell++) {
    const repeats = 5 + Math.floor(6 * random())
    // Steps of 80 to 400 σ.
    const noiseV = 4 / (80 * 5 ** random())
    const durations: number[] = []
    for (let repeat = 0; repeat < repeats; repeat++) {
      const made = asTrace(step, {
        rateHz: 25_000,
        preS: 0.02,
        postS: 0.06,
        noiseV,
        seed: 1 + 16 * cell + repeat,
        phase: random(),
      })
      const value = measureCapture(inputOf(made, {}, { refreshHz: null })).values.transition_duration_s
      if (value !== null) durations.push(value)
    }
    const { mean, u95 } = meanUncertainty(durations)
    if (mean === null || u95 === null) continue
    cells++
    sum += u95 / truth
    if (Math.abs(mean - truth) <= u95) inside++
  }
  return { share: inside / cells, cells, meanU95: sum / cells }
}

describe('coverage of the stated uncertainty', () => {
  it.each([
    ['first order', firstOrder(2 * MS), 2.197225 * 2 * MS],
    ['overdrive', overdrive(0.2, 2 * MS, 8 * MS), 1.549116 * 2 * MS],
  ] as const)('U95 of a cell contains the true duration in 93–97 % of 2,000 cells: %s', (name, step, truth) => {
    const { share, cells, meanU95 } = coverage(step, truth)
    console.log(
      `${name}: ${(100 * share).toFixed(2)} % of ${cells} cells; U95 ${(100 * meanU95).toFixed(2)} % of the duration on average`,
    )
    expect(cells).toBe(2000)
    expect(share).toBeGreaterThanOrEqual(0.93)
    expect(share).toBeLessThanOrEqual(0.97)
  })
})
