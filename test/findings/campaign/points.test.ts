import { expect, it } from 'vitest'
import { decodeFrame, encodeFrame } from '#shared/contract/wire.ts'
import { combined, u95Of, WELL_KNOWN } from '#shared/findings/campaign/estimate.ts'
import { measuredPoint } from '#shared/findings/campaign/points.ts'
import { DEFAULT_RECIPE } from '#shared/domain/recipe.ts'
import type { MatrixData, MatrixEntry } from '#shared/domain/views.ts'

/** Overshoots of one transition in percent, all in the window. */
const sweepOf = (overshoots: readonly number[]): MatrixData => {
  const entries = overshoots.map((overshoot_pct, i): MatrixEntry => ({
    captureId: i + 1,
    repeat: i + 1,
    values: { overshoot_pct, in_window: 1, transition_duration_s: 0.005 + 1e-5 * i },
    excluded: false,
    overridden: false,
    flagCount: 0,
    undecided: false,
  }))
  return {
    sweepId: 1,
    recipeHash: '',
    levels: [0, 255],
    cells: [{ from: 0, to: 255, entries }],
    unmeasured: 0,
  }
}
const pointOf = (overshoots: readonly number[]) =>
  measuredPoint({ sweepId: 1, setting: 'Gentle', refreshHz: 60 }, sweepOf(overshoots), DEFAULT_RECIPE)

it('an uncertainty known well stays known well across the wire', () => {
  const point = pointOf([1, 1.1, 0.9])
  expect(point.figures.in_window_share?.dof).toBe(WELL_KNOWN)
  expect(decodeFrame(encodeFrame(point))).toEqual(point)
  // 1.959964 is the two-sided 95 % point of the normal distribution (standard tables).
  expect(u95Of({ value: 55, u: 7.74, dof: WELL_KNOWN, shared: 0 })).toBeCloseTo(1.959964 * 7.74, 4)
  expect(combined([], []).dof).toBe(WELL_KNOWN)
})

it('the largest overshoot of three repeats has the interval that Student gives them, and of one none', () => {
  const worst = pointOf([1, 1.1, 0.9]).figures.overshoot_worst
  expect(worst?.value).toBeCloseTo(1, 12)
  // s = 0.1; 4.30265 is t of two degrees of freedom (standard tables).
  expect(u95Of(worst ?? { value: 0, u: null, dof: 0, shared: 0 })).toBeCloseTo((4.30265 * 0.1) / Math.sqrt(3), 5)
  expect(pointOf([1]).figures.overshoot_worst?.u).toBeNull()
})
