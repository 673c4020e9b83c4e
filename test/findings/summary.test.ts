import { describe, expect, it } from 'vitest'
import { compareRecipes } from '#shared/findings/compare.ts'
import { summarise } from '#shared/findings/summary.ts'
import { wilson95 } from '#shared/findings/wilson.ts'
import { durations, entry, matrix } from './fixture.ts'

const recipe = { darkCode: 102, overshootLimitPct: 5 }

const of = (id: number, inside: number | null, overshoot: number | null, more = {}) =>
  entry(id, { transition_duration_s: 1, in_window: inside, overshoot_pct: overshoot }, more)
const at = (id: number, value: number | null) => entry(id, { transition_duration_s: value })

describe('summary of a sweep', () => {
  it('weighs every transition the same and splits rise, fall and dark steps', () => {
    const data = matrix([0, 51, 255], {
      '0-51': durations(10, 10, 10, 10), // rise, dark
      '51-0': durations(2), // fall, dark
      '0-255': durations(4, 4), // rise
      '255-0': durations(1, 1), // fall
    })
    const summary = summarise(data, recipe, { repeats: 4 })
    expect(summary.mean).toMatchObject({ value: (10 + 2 + 4 + 1) / 4, cells: 4, n: 9 })
    expect(summary.median.value).toBe(3)
    expect(summary.worst).toMatchObject({ value: 10, from: 0, to: 51, n: 4 })
    expect(summary.riseMean.value).toBe(7)
    expect(summary.fallMean.value).toBe(1.5)
    expect(summary.darkMean).toMatchObject({ value: 6, cells: 2, n: 5 })
    expect(summary.counts).toMatchObject({ transitions: 6, emptyTransitions: 2, captures: 9, missing: 15 })
  })

  it('combines the uncertainties of the transitions by Welch–Satterthwaite', () => {
    // Two cells of 3 captures, both s = 1: u² = 2 · (1/2)² · 1/3 = 1/6, dof = 4, t = 2.776 (tables) → 1.1333.
    const data = matrix([0, 255], { '0-255': durations(1, 2, 3), '255-0': durations(5, 6, 7) })
    const { mean } = summarise(data, recipe)
    expect(mean.u95).toBeCloseTo(2.776445 / Math.sqrt(6), 4)
    expect(mean.note).toBe('')
    // One cell alone rests on two degrees of freedom: no interval.
    expect(summarise(data, recipe).riseMean.u95).toBeNull()
    expect(summarise(data, recipe).riseMean.note).toMatch(/2 degrees of freedom/)
  })

  it('lends the pooled variance to a transition with one capture and says so', () => {
    const data = matrix([0, 255], { '0-255': durations(1, 2, 3, 4, 5), '255-0': durations(6) })
    const { mean } = summarise(data, recipe)
    // s² = 2.5 both; u² = ¼ (½ + 2.5) = ¾; Σ u⁴/ν = ((1/8)² + (5/8)²)/4; dof = ⌊0.5625 / 0.1015625⌋ = ⌊5.54⌋ = 5, t = 2.571.
    expect(mean.u95).toBeCloseTo(2.570582 * Math.sqrt(0.75), 4)
    expect(mean.note).toMatch(/1 transition has one capture only/)
  })

  it('has no uncertainty without repeats, and no value without captures', () => {
    const single = summarise(matrix([0, 255], { '0-255': durations(1), '255-0': durations(2) }), recipe)
    expect(single.mean).toMatchObject({
      value: 1.5,
      u95: null,
      note: 'No usable uncertainty: no transition has repeats.',
    })
    const empty = summarise(matrix([0, 255], {}), recipe)
    expect(empty.mean.value).toBeNull()
    expect(empty.worst).toMatchObject({ value: null, from: null, to: null })
    expect(empty.inWindowShare).toMatchObject({ value: null, n: 0 })
    expect(empty.inWindowShare.note).toMatch(/in window/)
  })

  it('states shares with the Wilson interval, and counts what is excluded or undefined', () => {
    const data = matrix(
      [0, 255],
      {
        '0-255': [of(1, 1, 5), of(2, 1, 5.01), of(3, 0, 12), of(4, 0, 90, { excluded: true, flagCount: 1 })],
        '255-0': [of(5, 1, 0, { flagCount: 1 }), of(6, null, null)],
      },
      { unmeasured: 2 },
    )
    const summary = summarise(data, recipe, { repeats: 5 })
    expect(summary.inWindowShare).toMatchObject({ value: 75, count: 3, n: 4, cells: 2 })
    expect(summary.overshootOverLimitShare).toMatchObject({ value: 50, count: 2, n: 4 })
    expect(summary.overshootMean.value).toBeCloseTo(((5 + 5.01 + 12) / 3 + 0) / 2, 12)
    expect(summary.counts).toMatchObject({
      captures: 6,
      excluded: 1,
      withoutValue: 0,
      flagged: 1,
      unmeasured: 2,
      missing: 2,
    })
  })

  it('has the Wilson interval of published worked values', () => {
    // From memory of Newcombe (1998): 81 of 263 → 0.2553 to 0.3662; 0 of 20 → 0 to 0.1611; 15 of 148 → 0.0624 to 0.1605.
    for (const [k, n, low, high] of [
      [81, 263, 0.2553, 0.3662],
      [0, 20, 0, 0.1611],
      [15, 148, 0.0624, 0.1605],
      [1, 29, 0.0061, 0.1718],
    ] as const) {
      expect(wilson95(k, n)[0]).toBeCloseTo(low, 4)
      expect(wilson95(k, n)[1]).toBeCloseTo(high, 4)
    }
  })

  it('takes the smallest as worst where larger is better', () => {
    const data = matrix([0, 255], {
      '0-255': [entry(1, { first_frame_completion_pct: 90 })],
      '255-0': [entry(2, { first_frame_completion_pct: 40 })],
    })
    expect(summarise(data, recipe, { measure: 'first_frame_completion_pct' }).worst).toMatchObject({
      value: 40,
      from: 255,
    })
  })
})

describe('comparison of two recipes', () => {
  const a = matrix([0, 255], { '0-255': [at(1, 10), at(2, 20), at(3, 30)], '255-0': [at(4, 5), at(5, null)] })
  const b = {
    ...matrix([0, 255], { '0-255': [at(1, 11), at(2, 22), at(3, null)], '255-0': [at(4, 5.5), at(5, 7)] }),
    recipeHash: 'bbbbbbbbbbbbbbbb',
  }

  it('pairs capture with capture', () => {
    const comparison = compareRecipes({ data: a, recipe }, { data: b, recipe })
    expect(comparison.cells[0]).toMatchObject({ a: 15, b: 16.5, n: 2, difference: 1.5, onlyA: 1, onlyB: 0 })
    expect(comparison.cells[0]?.differencePct).toBeCloseTo(10, 12)
    expect(comparison.cells[0]?.u95).toBeNull()
    expect(comparison.cells[1]).toMatchObject({ difference: 0.5, n: 1, onlyB: 1, u95: null })
    expect(comparison.mostChanged.map(({ from }) => from)).toEqual([0, 255])
  })

  it('draws summaries from the captures both have, and says how many are left out', () => {
    const { summaries, summaryA, summaryB } = compareRecipes({ data: a, recipe }, { data: b, recipe })
    // Capture 3 (30) has no value under b, capture 5 (7) none under a: means of 10, 20 | 5 and of 11, 22 | 5.5.
    const mean = summaries.find(({ name }) => name === 'mean')
    expect(mean).toMatchObject({
      a: { value: 10, n: 3 },
      b: { value: 11, n: 3 },
      difference: 1,
      leftOut: { a: 1, b: 1 },
    })
    expect(summaries.find(({ name }) => name === 'worst')?.difference).toBe(16.5 - 15)
    for (const { a: left, b: right } of summaries) expect(left.n).toBe(right.n)
    expect([summaryA.mean.n, summaryB.mean.n]).toEqual([3, 3])
  })

  it('states the uncertainty of the difference, free of what the repeats share', () => {
    const values = [10, 90, 30, 70, 50]
    const one = matrix([0, 9], { '0-9': values.map((v, i) => at(i + 1, v)) })
    const two = matrix([0, 9], { '0-9': values.map((v, i) => at(i + 1, v + i + 1)) })
    // Differences 1…5: mean 3, s = √2.5, t(4) = 2.776, U95 = 2.776 · √(2.5 / 5) = 1.963; the values scatter by 32.
    const [cell] = compareRecipes({ data: one, recipe }, { data: two, recipe }).cells
    expect(cell?.difference).toBeCloseTo(3, 12)
    expect(cell?.u95).toBeCloseTo(1.963, 3)
  })

  it('is all zeros for a recipe against itself', () => {
    const comparison = compareRecipes({ data: a, recipe }, { data: a, recipe })
    expect(comparison.mostChanged).toEqual([])
    expect(comparison.cells.every((cell) => cell.difference === 0)).toBe(true)
  })

  it('lists cells that exist under one recipe only instead of inventing a difference', () => {
    const none = matrix([0, 255], { '0-255': [at(1, null)], '255-0': [at(4, 5)] })
    const { onlyUnderOne } = compareRecipes({ data: none, recipe }, { data: b, recipe })
    expect(onlyUnderOne).toMatchObject([{ from: 0, to: 255, difference: null, onlyB: 2 }])
  })

  it('refuses matrices of different sweeps', () => {
    expect(() => compareRecipes({ data: a, recipe }, { data: { ...b, sweepId: 2 }, recipe })).toThrow(/sweeps 1 and 2/)
  })
})
