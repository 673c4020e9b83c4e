/** What is read of a record in one pass, against plain definitions. */
import { fc } from '../support/fast-check.ts'
import { describe, expect, it } from 'vitest'
import { createWorkspace, HELD_RUN, readRecord } from '#shared/measure/record.ts'

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
