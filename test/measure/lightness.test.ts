/** L* as the ordinate: expected values by scipy's root finder on the CIE formula, nothing of the project's. */
import { describe, expect, it } from 'vitest'
import type { Ladder } from '#shared/domain/capture.ts'
import { LEVEL_PRESETS } from '#shared/domain/plan.ts'
import { RECIPE_PRESETS } from '#shared/domain/recipe.ts'
import { ladderCurve, lightnessOfVolts, voltsOfLightness } from '#shared/measure/ladder-curve.ts'
import { lightness, luminanceOf } from '#shared/signal/lightness.ts'
import { lightToSrgb } from '../support/transfer-functions.ts'
import { ALL_LEVELS, firstOrder, ladderOf, measure, record, srgb, valueOf } from './waves.ts'

const ms = 1e-3
const full = ladderOf(ALL_LEVELS)
const between = (from: number, to: number, offsetV = 0) =>
  record((t) => offsetV + 4 * (srgb(from) + (srgb(to) - srgb(from)) * firstOrder(ms)(t)), { rate: 200_000 })
const BAND = RECIPE_PRESETS.find(({ ordinate }) => ordinate === 'lightness')

describe('CIE 1976 lightness', () => {
  it.each([
    [0, 0],
    [0.001, 0.903296],
    [0.008856, 7.999592],
    [0.18, 49.496108],
    [0.5, 76.069261],
    [1, 100],
  ])('of relative luminance %f is %f, and back', (relative, expected) => {
    expect(lightness(relative)).toBeCloseTo(expected, 6)
    expect(luminanceOf(lightness(relative))).toBeCloseTo(relative, 12)
  })

  it('goes on past white and below no light without a corner', () => {
    expect(lightness(1.2)).toBeGreaterThan(107)
    expect(lightness(-0.001)).toBeCloseTo(-0.903296, 6)
    expect(luminanceOf(-1)).toBeCloseTo(-1 / 903.2963, 9)
  })

  it('gives the levels of equal steps on an sRGB display', () => {
    // In scipy: 0, 41.16, 78.37, 118.91, 162.13, 207.58, 255 and 0, 59.29, 118.91, 184.59, 255.
    const codes = (count: number): number[] =>
      Array.from({ length: count }, (_, k) => Math.round(255 * lightToSrgb(luminanceOf((100 * k) / (count - 1)))))
    expect(LEVEL_PRESETS['seven equal L*']).toEqual(codes(7))
    expect(LEVEL_PRESETS['five equal L*']).toEqual(codes(5))
    expect(codes(7)).toEqual([0, 41, 78, 119, 162, 208, 255])
  })
})

describe('lightness ordinate of a first-order luminance step (computed, in τ)', () => {
  it.each([
    [0, 255, 1.42851, 2.97691],
    [255, 0, 4.21603, 6.06073],
    [0, 59, 1.69716, 1.91601],
    [59, 0, 2.57704, 2.83278],
    [59, 119, 1.87351, 2.10918],
    [119, 59, 2.641, 2.91609],
    [128, 192, 1.98257, 2.17949],
    [192, 128, 2.45871, 2.67596],
  ])('%i to %i: 10–90 of the L* step %f, between bands of ±2 L* %f', (from, to, share, band) => {
    const input = { from, to, ladder: full }
    const shared = measure(between(from, to), { ordinate: 'lightness' }, input)
    expect(Math.abs(valueOf(shared, 'transition_duration_s') / (share * ms) - 1)).toBeLessThan(1e-3)
    const banded = measure(between(from, to), BAND, input)
    expect(Math.abs(valueOf(banded, 'transition_duration_s') / (band * ms) - 1)).toBeLessThan(1e-3)
    // From leaving one band to entering the other is what arrival means, too.
    expect(valueOf(banded, 'arrival_s')).toBeCloseTo(valueOf(banded, 'transition_duration_s'), 9)
  })

  it('counts light from the covered sensor where that was measured, else from level 0', () => {
    const lifted = (darkV: number | null): Ladder => ({
      ...full,
      darkV,
      steps: full.steps.map((step) => ({ ...step, meanV: step.meanV + 0.05 })),
    })
    const of = (ladder: Ladder, volts: number): number => {
      const found = ladderCurve(ladder)
      if ('problem' in found) throw new Error(found.problem)
      expect(voltsOfLightness(found.curve, lightnessOfVolts(found.curve, volts))).toBeCloseTo(volts, 12)
      return lightnessOfVolts(found.curve, volts)
    }
    // Black of 0.01 V over the covered sensor on 4.01 V of white: 903.2963 · 0.01/4.01.
    expect(of(lifted(0.04), 0.05)).toBeCloseTo((903.2963 * 0.01) / 4.01, 4)
    expect(of(lifted(null), 0.05)).toBe(0)
    expect(of(lifted(null), 4.05)).toBe(100)
  })

  it('is undefined without a ladder and where the step is no larger than its bands', () => {
    const none = measure(between(0, 255), BAND, { from: 0, to: 255, refreshHz: 60 })
    for (const id of ['transition_duration_s', 'settling_s', 'integrated_error_s', 'in_window'] as const)
      expect([id, none.values[id], none.reasons[id]]).toEqual([id, null, expect.stringMatching(/ladder/)])
    const small = measure(between(100, 108), BAND, { from: 100, to: 108, ladder: full })
    expect(small.values.transition_duration_s).toBeNull()
    expect(small.reasons.transition_duration_s).toMatch(/step of 3\.\d L\* is not larger than the two bands of ±2 L\*/)
  })
})
