/** What is read of a record in one pass, against plain definitions. */
import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import { lagNoise } from '#shared/measure/noise.ts'
import { createWorkspace, HELD_RUN, readRecord } from '#shared/measure/record.ts'
import { seriesOf } from '#shared/signal/series.ts'
import { gaussian } from './waves.ts'

const TOP = 2047 * 16

interface Run {
  readonly code: number
  readonly first: number
  readonly length: number
}

function runsOf(codes: Int16Array): Run[] {
  const runs: Run[] = []
  let first = 0
  for (let k = 1; k <= codes.length; k++) {
    if (k < codes.length && codes[k] === codes[first]) continue
    runs.push({ code: codes[first]!, first, length: k - first })
    first = k
  }
  return runs
}

describe('facts of a record of 16-bit codes', () => {
  // A converter of 12 bits: its steps are 16 codes, its rails −32768 and 32752.
  const code = fc.oneof({ weight: 6, arbitrary: fc.integer({ min: -9, max: 9 }) }, fc.constantFrom(-2048, 2047))
  const stretch = fc.record({
    code,
    length: fc.oneof({ weight: 9, arbitrary: fc.constant(1) }, fc.integer({ min: 2, max: 30 })),
  })

  it('are those of its runs', () => {
    const workspace = createWorkspace()
    fc.assert(
      fc.property(fc.array(stretch, { minLength: 200, maxLength: 260 }), fc.nat(20), (stretches, cut) => {
        const all = Int16Array.from(stretches.flatMap((one) => Array.from({ length: one.length }, () => 16 * one.code)))
        const trace = {
          format: 'int16',
          samples: all,
          sampleRateHz: 1000,
          scaleV: 5 / 32768,
          offsetV: 0.1,
          rangeV: 0,
        } as const
        const facts = readRecord(trace, cut, all.length, workspace)
        const codes = all.subarray(cut)
        const runs = runsOf(codes)
        const rail = ({ code: one }: Run): boolean => one >= TOP || one <= -32768
        const clipped = runs.filter((run) => rail(run) && run.length > 1)
        const held = runs.filter((run) => !rail(run) && run.length > 1)
        const longest = (list: readonly Run[]): number => Math.max(0, ...list.map((run) => run.length))
        expect(facts.lsbV).toBeCloseTo((16 * 5) / 32768, 12)
        expect(facts.clipped).toBe(clipped.reduce((sum, run) => sum + run.length, 0))
        expect(facts.clippedRun).toBe(longest(clipped))
        expect(facts.clippedSpan).toEqual(
          clipped.length === 0 ? [0, 0] : [clipped[0]!.first, clipped.at(-1)!.first + clipped.at(-1)!.length - 1],
        )
        expect(facts.heldRun).toBe(longest(held))
        expect(facts.heldAt).toBe(held.find((run) => run.length === longest(held))?.first ?? 0)
        expect(facts.heldSamples).toBe(
          held.filter((run) => run.length >= HELD_RUN).reduce((sum, run) => sum + run.length, 0),
        )
        const apart = facts.clipped + facts.heldRun
        const equal = codes.length - runs.length
        expect(facts.equalShare).toBeCloseTo(Math.max(0, equal - apart) / Math.max(1, codes.length - apart), 12)
        expect(facts.minV).toBeCloseTo(Math.min(...codes) * trace.scaleV + 0.1, 12)
        expect(facts.maxV).toBeCloseTo(Math.max(...codes) * trace.scaleV + 0.1, 12)
      }),
      { seed: 11, numRuns: 300 },
    )
  })
})

describe('noise of a plateau', () => {
  /** Differences over two samples, those beyond four robust standard deviations left out: with a sorted median. */
  function plain(values: Float64Array): number {
    const d = Float64Array.from({ length: values.length - 2 }, (_, k) => values[k + 2]! - values[k]!)
    const mean = d.reduce((sum, y) => sum + y, 0) / d.length
    const stride = Math.max(1, Math.floor(d.length / 1024))
    const sizes: number[] = []
    for (let k = 0; k < d.length && sizes.length < 1024; k += stride) sizes.push(Math.abs(d[k]! - mean))
    sizes.sort((a, b) => a - b)
    const median = (sizes[(sizes.length - 1) >> 1]! + sizes[sizes.length >> 1]!) / 2
    const limit = 4 * 1.4826022185056018 * median
    const kept = d.map((y) => y - mean).filter((y) => Math.abs(y) <= limit)
    return Math.sqrt(kept.reduce((sum, y) => sum + y * y, 0) / kept.length / 2)
  }

  it.each([
    ['Gaussian', (y: number) => y, 0],
    ['with spikes', (y: number, k: number) => (k % 97 === 0 ? 40 * y : y), 0.01],
    ['rounded', (y: number) => Math.round(y), 0],
    ['even (nothing is beyond the limit)', (y: number) => Math.tanh(3 * y), 0],
  ])('%s: as by its definition', (_, make, leastClipped) => {
    const next = gaussian(3)
    for (const n of [12, 100, 417, 1500, 6000]) {
      const values = Float64Array.from({ length: n }, (_, k) => make(next(), k))
      const found = lagNoise(seriesOf(values), 0, n, 2, 0)
      expect(found).toBeCloseTo(plain(values), 10)
      const whole = Math.sqrt(values.slice(2).reduce((sum, y, k) => sum + (y - values[k]!) ** 2, 0) / (n - 2) / 2)
      if (n > 1000 && leastClipped > 0) expect(found).toBeLessThan((1 - leastClipped) * whole)
    }
  })
})
