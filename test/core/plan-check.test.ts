import { describe, expect, it } from 'vitest'
import { checkPlan } from '#main/core/plan-check.ts'
import { DEFAULT_PLAN, transitionsOf } from '#shared/domain/plan.ts'

describe('plan check', () => {
  it('counts transitions N(N−1) and the time of windows and spacing', () => {
    const check = checkPlan(DEFAULT_PLAN)
    expect(check.problems).toEqual([])
    expect(check).toMatchObject({ transitions: 42, captures: 210, samplesPerCapture: 15_000, bytesPerCapture: 30_000 })
    expect(check.estimatedS).toBeCloseTo(7 * 0.6 + 210 * 0.35, 6)
  })

  it.each([
    ['one level', { levels: [0] }, /at least two/],
    ['a level twice', { levels: [0, 51, 51] }, /twice/],
    ['falling order', { levels: [255, 0] }, /dark to bright/],
    ['a level above 255', { levels: [0, 256] }, /255/],
    ['a window longer than the spacing', { postS: 0.5 }, /shorter than the time recorded/],
    ['more than three flashes a second', { spacingS: 0.3 }, /three flashes/],
    ['a window of nothing', { postS: 0 }, /postS/],
    ['too many samples', { sampleRateHz: 10_000_000, postS: 2, spacingS: 3 }, /4,000,000/],
    ['a rate of text', { sampleRateHz: 'fast' }, /sampleRateHz/],
    ['an unknown field', { colour: 'red' }, /colour|[Uu]nrecognized/],
  ])('refuses %s in words', (_, change, words) => {
    expect(checkPlan({ ...DEFAULT_PLAN, ...change }).problems.join('\n')).toMatch(words)
  })

  it('lets the flash limit be lifted knowingly only', () => {
    expect(checkPlan({ ...DEFAULT_PLAN, spacingS: 0.26, postS: 0.2, flashLimitLifted: true }).problems).toEqual([])
  })

  it('N(N−1) for the usual grids', () => {
    expect([3, 5, 6, 9].map((n) => transitionsOf([...Array(n).keys()]).length)).toEqual([6, 20, 30, 72])
  })

  it.each([null, undefined, 7, 'plan', [], {}])('never throws on %s', (input) => {
    expect(checkPlan(input).problems.length).toBeGreaterThan(0)
  })
})
