/** What a coarse ladder does not know, against closed forms of displays it was measured on. */
import { describe, expect, it } from 'vitest'
import type { Ladder } from '#shared/domain/capture.ts'
import { LEVEL_PRESETS } from '#shared/domain/plan.ts'
import { codeOfVolts, ladderCurve } from '#shared/measure/ladder-curve.ts'
import { interpolationU } from '#shared/measure/ladder-doubt.ts'
import { bt1886Luminance } from '../support/transfer-functions.ts'
import { measure, overdriven, record, srgb, valueOf } from './waves.ts'

const DISPLAYS: Readonly<Record<string, (code: number) => number>> = {
  sRGB: srgb,
  'power 2.2': (code) => (code / 255) ** 2.2,
  'BT.1886 with black': (code) => bt1886Luminance(code / 255, 1, 0.001),
  'S-shaped': (code) => 0.7 * (code / 255) ** 2 * (3 - (2 * code) / 255) + 0.3 * (code / 255) ** 2.2,
}
const ladderOf = (levels: readonly number[], light: (code: number) => number): Ladder => ({
  steps: levels.map((level) => ({ level, meanV: 4 * light(level), sdV: 0, peakToPeakV: 0 })),
  darkV: null,
  takenAt: '2030-01-01T00:00:00.000Z',
})

describe('uncertainty of a code between the levels of a ladder', () => {
  it.each(Object.keys(DISPLAYS))('%s: holds the error of nearly every code, and is nothing at a level', (name) => {
    const light = DISPLAYS[name] as (code: number) => number
    for (const levels of [LEVEL_PRESETS['seven equal L*'], LEVEL_PRESETS['nine equal codes']]) {
      const ladder = ladderOf(levels, light)
      const found = ladderCurve(ladder)
      if ('problem' in found) throw new Error(found.problem)
      let outside = 0
      let sum = 0
      for (let code = 1; code < 255; code++) {
        const volts = 4 * light(code)
        const u = interpolationU(ladder, found.curve, volts)
        sum += u
        if (Math.abs(codeOfVolts(found.curve, volts) - code) > 2 * u + 0.01) outside++
      }
      // The foot of sRGB hides in the lowest step; everywhere else the bound holds.
      expect(outside).toBeLessThan(13)
      expect(sum / 254).toBeLessThan(2)
      for (const level of levels.slice(1))
        expect(interpolationU(ladder, found.curve, 4 * light(level))).toBeLessThan(1e-6)
    }
  })

  it('enters the overshoot in codes: a peak between two levels', () => {
    // Overdrive of 20 %: 5.200210 % past the target, by its closed form.
    const [from, to] = [119, 208]
    const light = (t: number): number => srgb(from) + (srgb(to) - srgb(from)) * overdriven(0.2, 1e-3, 4e-3)(t)
    const ladder = ladderOf(LEVEL_PRESETS['seven equal L*'], srgb)
    const result = measure(
      record((t) => 4 * light(t), { rate: 200_000 }),
      {},
      { from, to, ladder },
    )
    const peak = srgb(to) + 0.0520021 * (srgb(to) - srgb(from))
    const codeOf = (y: number): number => 255 * (y <= 0.0031308 ? 12.92 * y : 1.055 * y ** (1 / 2.4) - 0.055)
    const truth = codeOf(peak) - to
    const u = result.uncertainties.overshoot_code ?? 0
    expect(Math.abs(valueOf(result, 'overshoot_code') - truth)).toBeLessThan(2 * u)
    // Noise-free and sampled densely, the ladder is all there is.
    expect(u).toBeGreaterThan(1e-4)
    expect(u).toBeLessThan(0.1)
  })
})
