import { describe, expect, it } from 'vitest'
import type { MeasureId } from '#shared/domain/measures.ts'
import { measureCapture } from '#shared/measure/measure-capture.ts'
import { DEFAULT_STEP, hasScipy, runReference, voltsOf } from './tools.ts'
import { asTrace, firstOrder, inputOf, overdrive, raisedCosine, secondOrder, type Wave } from './waves.ts'

const MS = 1e-3
const WAVES: [string, Wave][] = [
  ['first order', firstOrder(2 * MS)],
  ['raised cosine', raisedCosine(6 * MS)],
  ['damping 0.5', secondOrder(0.5, 1000)],
  ['overdrive', overdrive(0.1, 2 * MS, 6 * MS)],
]

/** Measure, its name there, and how far apart the two may be: a share of the value and an absolute part. */
const QUANTITIES: readonly [MeasureId, string, number, number][] = [
  ['transition_duration_s', 'duration', 0.01, 2e-5],
  ['arrival_s', 'arrival', 0.02, 4e-5],
  ['settling_s', 'settling', 0.03, 1e-4],
  ['overshoot_pct', 'overshoot', 0.01, 0.15],
  ['integrated_error_s', 'integratedError', 0.02, 4e-5],
  ['first_frame_completion_pct', 'firstFrame', 0.003, 0.2],
  ['blur_edge_s', 'blurEdge', 0.002, 1e-5],
  ['gaussian_edge_s', 'gaussianEdge', 0.005, 1e-5],
]

/** The comparison of speed is with a program that really measures: it finds the same numbers. */
describe.runIf(hasScipy())('the vectorised program of the speed comparison', () => {
  it.each([0, 0.002])('finds the same numbers at %d V of noise', (noiseV) => {
    const cases = WAVES.map(([name, wave]) => ({
      name,
      input: inputOf(asTrace(wave, { rateHz: 50_000, preS: 0.05, postS: 0.25, noiseV, int16: noiseV > 0 })),
    }))
    const theirs = runReference(
      cases.map(({ input }) => ({ job: DEFAULT_STEP, values: voltsOf(input.trace) })),
      false,
      'vectorised.py',
    )
    const apart: string[] = []
    let compared = 0
    cases.forEach(({ name, input }, i) => {
      const { values } = measureCapture(input)
      for (const [id, key, share, absolute] of QUANTITIES) {
        const value = theirs[i]?.[key]
        const ours = values[id]
        if (typeof value !== 'number' || ours === null) continue
        compared++
        if (Math.abs(ours - value) > share * Math.abs(value) + absolute)
          apart.push(`${name}: ${id} ours ${ours.toPrecision(6)}, vectorised ${value.toPrecision(6)}`)
      }
    })
    expect(apart).toEqual([])
    expect(compared).toBeGreaterThanOrEqual(7 * cases.length)
  })
})
