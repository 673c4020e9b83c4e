import { describe, expect, it } from 'vitest'
import { answer } from '#shared/findings/campaign/answer.ts'
import type { Estimate } from '#shared/findings/campaign/estimate.ts'
import { withUncertainty } from '#shared/domain/quantity-text.ts'
import { sentences } from '#shared/findings/campaign/sentences.ts'
import { FIGURE_IDS, type FigureId, type Limits, type MeasuredPoint } from '#shared/findings/campaign/figures.ts'
import { usableRanges } from '#shared/findings/campaign/usable-range.ts'

const estimate = (value: number, u: number | null = 0.01): Estimate => ({ value, u, dof: 40, shared: 0 })

let sweepId = 0
function point(setting: string, refreshHz: number, values: Partial<Record<FigureId, Estimate>>): MeasuredPoint {
  sweepId += 1
  const empty = Object.fromEntries(FIGURE_IDS.map((id) => [id, null])) as Record<FigureId, null>
  return { sweepId, setting, refreshHz, figures: { ...empty, ...values } }
}

const limits: Limits = { overshoot_mean: { bound: 'at-most', value: 5 } }
const points = [
  point('Gentle', 60, { duration_mean: estimate(6), overshoot_mean: estimate(2) }),
  point('Gentle', 100, { duration_mean: estimate(5.5), overshoot_mean: estimate(2) }),
  point('Gentle', 144, { duration_mean: estimate(5), overshoot_mean: estimate(1) }),
  point('Strong', 60, { duration_mean: estimate(4), overshoot_mean: estimate(20) }),
  point('Strong', 100, { duration_mean: estimate(4), overshoot_mean: estimate(5.01) }),
  point('Strong', 144, { duration_mean: estimate(4.2), overshoot_mean: estimate(3) }),
]

describe('the answer of a campaign', () => {
  it('gives usable ranges of measured rates only', () => {
    const [gentle, strong] = usableRanges(points, limits)
    expect(gentle?.spans).toEqual([{ fromHz: 60, toHz: 144, rates: 3 }])
    expect(gentle?.wholeRange).toBe('usable')
    expect(strong?.points.map(({ verdict }) => verdict)).toEqual(['not-usable', 'cannot-tell', 'usable'])
    expect(strong?.spans).toEqual([{ fromHz: 144, toHz: 144, rates: 1 }])
    expect(strong?.wholeRange).toBe('not-usable')
  })
  it('breaks a span at a rate that was not measured', () => {
    const without = points.filter(({ setting, refreshHz }) => !(setting === 'Gentle' && refreshHz === 100))
    const [gentle] = usableRanges(without, limits)
    expect(gentle?.spans.map(({ fromHz }) => fromHz)).toEqual([60, 144])
    expect(gentle?.wholeRange).toBe('cannot-tell')
    expect(gentle?.missingHz).toEqual([100])
  })
  it('names the setting for the whole range, the fastest at each rate and what a step costs', () => {
    const found = answer(points, limits, 'equal')
    expect(found.wholeRange.map(({ setting }) => setting)).toEqual(['Gentle'])
    expect(found.wholeRange[0]?.mean?.value).toBeCloseTo(5.5, 12)
    expect(found.fastest.map(({ fastest }) => fastest?.setting)).toEqual(['Gentle', 'Gentle', 'Strong'])
    const step = found.steps.find(({ refreshHz }) => refreshHz === 144)?.differences
    expect(step?.duration_mean?.value).toBeCloseTo(-0.8, 12)
    expect(step?.duration_mean?.shown).toBe(true)
    expect(step?.overshoot_mean?.value).toBeCloseTo(2, 12)
  })
  it('claims no difference that the uncertainty does not carry', () => {
    const close = [
      point('A', 60, { duration_mean: estimate(5, 0.1), overshoot_mean: estimate(1) }),
      point('B', 60, { duration_mean: estimate(5.1, 0.1), overshoot_mean: estimate(1) }),
    ]
    const found = answer(close, limits, 'equal')
    expect(found.steps[0]?.differences.duration_mean?.shown).toBe(false)
    expect(found.fastest[0]?.notShownSlower.map(({ setting }) => setting)).toEqual(['B'])
  })
})

describe('sentences', () => {
  const texts = (from: readonly MeasuredPoint[]): string[] =>
    sentences(answer(from, limits, 'equal'), limits).map(({ text }) => text)
  it('gives the answer first and rests on the sweeps it names', () => {
    const told = sentences(answer(points, limits, 'equal'), limits)
    expect(told[0]?.text).toMatch(/^Only Gentle meets the limits from 60 to 144 Hz; the mean duration of Gentle/)
    expect(told[0]?.sweepIds).toHaveLength(3)
    expect(told[2]?.text).toBe(
      'Strong is usable at 144 Hz only; not usable at 60 Hz; at 100 Hz the limit lies inside the uncertainty.',
    )
  })
  it('says “only” of a single rate among several, not of each of two', () => {
    const over = (values: readonly number[]): readonly MeasuredPoint[] =>
      values.map((value, i) => point('A', [60, 100, 144][i] as number, { overshoot_mean: estimate(value, 0.1) }))
    expect(texts(over([1, 20, 1]))).toContain('A is usable at 60 Hz and at 144 Hz; not usable at 100 Hz.')
    expect(texts(over([1, 20, 20]))).toContain('A is usable at 60 Hz only; not usable at 100 and 144 Hz.')
    expect(texts(over([1]))).toContain('A is usable at 60 Hz.')
  })
  it('puts no limit inside an uncertainty that is not there', () => {
    const without = [
      point('A', 60, {}),
      point('A', 100, { overshoot_mean: estimate(2, null) }),
      point('A', 144, { overshoot_mean: estimate(5, 0.1) }),
    ]
    expect(texts(without)).toContain(
      'A is shown usable at no rate measured; at 144 Hz the limit lies inside the uncertainty; at 60 and 100 Hz a figure with a limit has no value or no uncertainty.',
    )
  })
  it('tells only differences that hold', () => {
    const close = [
      point('A', 60, { duration_mean: estimate(5, 0.1), overshoot_mean: estimate(1) }),
      point('B', 60, { duration_mean: estimate(5.1, 0.1), overshoot_mean: estimate(1) }),
    ]
    expect(texts(close).at(-1)).toBe('B against A: no difference is shown at any rate measured.')
    expect(texts(points).at(-1)).toMatch(
      /^Strong against Gentle: mean transition duration shorter by 800 to 2000 ms \(U95 up to 28 ms\) at 60, 100 and 144 Hz; /,
    )
  })
  it('says what it cannot tell when no setting is shown to serve', () => {
    const open = [point('A', 60, { overshoot_mean: estimate(5.001) })]
    expect(texts(open)[0]).toBe('No setting is shown to meet the limits at 60 Hz; for A the measurements cannot tell.')
  })
})

describe('a value with its uncertainty', () => {
  it('has as many decimals as its uncertainty', () => {
    expect(withUncertainty(0.0053249, 0.00012, 's')).toBe('5.32 ± 0.12 ms')
    expect(withUncertainty(19.168, 0.0625, '%')).toBe('19.17 ± 0.06 %')
    expect(withUncertainty(-1.26, 0.4, '%')).toBe('\u22121.3 ± 0.4 %')
    expect(withUncertainty(123.4, 33, 'Hz')).toBe('123 ± 33 Hz')
    // From 100 on a doubt has two digits as well, and the value none that it does not carry.
    expect(withUncertainty(1087.6, 183, 'Hz')).toBe('1090 ± 180 Hz')
    expect(withUncertainty(1087.6, 183, ': 1')).toBe('(1090 ± 180) : 1')
    expect(withUncertainty(1156.3, 3.2, '10³ ΔE*ab³')).toBe('(1156 ± 3) × 10³ ΔE*ab³')
    expect(withUncertainty(1156.3, null, '10³ ΔE*ab³')).toBe('1156 × 10³ ΔE*ab³ (uncertainty unknown)')
    expect(withUncertainty(0.005, null, 's')).toBe('5.00 ms (uncertainty unknown)')
  })
})
