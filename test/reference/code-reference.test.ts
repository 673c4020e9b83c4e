import { describe, expect, it } from 'vitest'
import type { Ladder } from '#shared/domain/capture.ts'
import { LEVEL_PRESETS } from '#shared/domain/plan.ts'
import { codeOfVolts, ladderCurve } from '#shared/measure/ladder-curve.ts'
import { srgbToLight } from '../support/transfer-functions.ts'
import { hasScipy, runReference } from './tools.ts'

const DISPLAYS: readonly { name: string; light: (code: number) => number }[] = [
  { name: 'power 2.2 on a black of 1/1000', light: (code) => 0.001 + 0.999 * (code / 255) ** 2.2 },
  { name: 'sRGB', light: (code) => srgbToLight(code / 255) },
  { name: 'power 1.8', light: (code) => (code / 255) ** 1.8 },
]
const LISTS = ['six equal codes', 'nine equal codes'] as const

describe.runIf(hasScipy())('codes through the ladder against the truth and scipy', () => {
  it('stays within one code between its levels; for power laws it is exact where a plain monotone cubic is not', () => {
    const codes = Float64Array.from({ length: 1021 }, (_, i) => i / 4)
    const cases = DISPLAYS.flatMap((display) => LISTS.map((list) => ({ display, list })))
    const reference = runReference(
      cases.map(({ display, list }) => ({
        job: {
          kind: 'code' as const,
          ladderLevels: LEVEL_PRESETS[list],
          ladderVolts: LEVEL_PRESETS[list].map((level) => 4 * display.light(level)),
        },
        values: codes.map((code) => 4 * display.light(code)),
      })),
    )
    cases.forEach(({ display, list }, i) => {
      const ladder: Ladder = {
        steps: LEVEL_PRESETS[list].map((level) => ({ level, meanV: 4 * display.light(level), sdV: 0, peakToPeakV: 0 })),
        darkV: 0,
        takenAt: '2030-01-01T00:00:00.000Z',
      }
      const result = ladderCurve(ladder)
      if (!('curve' in result)) throw new Error(result.problem)
      const theirs = reference[i]?.['code'] as number[]
      // Between black and the first level the ladder holds no knot: a toe that is no power law cannot be known there.
      const first = LEVEL_PRESETS[list][1]
      const worst = { above: 0, below: 0, scipy: 0, scipyBelow: 0 }
      codes.forEach((code, k) => {
        const ours = Math.abs(codeOfVolts(result.curve, 4 * display.light(code)) - code)
        const scipy = Math.abs((theirs[k] as number) - code)
        if (code >= first) {
          worst.above = Math.max(worst.above, ours)
          worst.scipy = Math.max(worst.scipy, scipy)
        } else {
          worst.below = Math.max(worst.below, ours)
          worst.scipyBelow = Math.max(worst.scipyBelow, scipy)
        }
      })
      console.log(
        `${display.name}, ${list}: furthest from the true code ${worst.above.toFixed(3)} (scipy ${worst.scipy.toFixed(3)}), ` +
          `below the first level ${worst.below.toFixed(3)} (${worst.scipyBelow.toFixed(3)})`,
      )
      expect(worst.above).toBeLessThan(1)
      if (display.name.startsWith('power')) {
        expect(Math.max(worst.above, worst.below)).toBeLessThan(0.01)
        expect(worst.scipy).toBeGreaterThan(0.1)
      }
    })
  })
})
