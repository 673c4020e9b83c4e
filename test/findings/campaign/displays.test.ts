import { describe, expect, it } from 'vitest'
import { answer } from '#shared/findings/campaign/answer.ts'
import {
  alike,
  commonRates,
  type ComparedDisplay,
  compareDisplays,
  rankingSentence,
} from '#shared/findings/campaign/displays.ts'
import { FIGURE_IDS, type FigureId, type MeasuredPoint } from '#shared/findings/campaign/figures.ts'

let sweepId = 0
function display(
  name: string,
  durations: Readonly<Record<number, number>>,
  more: Partial<ComparedDisplay> = {},
): ComparedDisplay {
  const points = Object.entries(durations).map(([hz, ms]): MeasuredPoint => {
    sweepId += 1
    const figures = Object.fromEntries(FIGURE_IDS.map((id) => [id, null])) as Record<FigureId, null>
    return {
      sweepId,
      setting: 'Gentle',
      refreshHz: Number(hz),
      figures: {
        ...figures,
        duration_mean: { value: ms / 1000, u: 0.00005, dof: 40, shared: 0.00002 },
        overshoot_mean: { value: 1, u: 0.1, dof: 40, shared: 0 },
      },
    }
  })
  const limits = { overshoot_mean: { bound: 'at-most', value: 5 } } as const
  return {
    name,
    invented: true,
    recipeHash: 'aaaa',
    algorithm: '3',
    levels: [0, 255],
    rigs: ['rig 1'],
    points,
    record: [],
    answer: answer(points, limits, 'equal'),
    ...more,
  }
}

describe('displays compared', () => {
  const a = display('Display A', { 60: 5, 120: 4, 144: 4 })
  const b = display('Display B', { 60: 5.05, 120: 4.05 })
  const c = display('Display C', { 60: 7, 120: 6, 165: 6 })
  it('ranks those that differ and ties those that do not', () => {
    const found = compareDisplays([c, b, a], 'duration_mean', { kind: 'fastest-usable', refreshHz: 60 })
    expect(found.entries.map(({ name }) => name)).toEqual(['Display A', 'Display B', 'Display C'])
    expect(found.ranking.ranked.map(({ best, worst }) => [best, worst])).toEqual([
      [1, 2],
      [1, 2],
      [3, 3],
    ])
    expect(rankingSentence(found)).toBe(
      'In mean transition duration, Display A is not shown to differ from Display B. All of these displays are simulated.',
    )
  })
  it('uses only the rates all displays share', () => {
    expect(commonRates([a, b, c])).toEqual([60, 120])
    const found = compareDisplays([a, c], 'duration_mean', { kind: 'whole-range', weighting: 'equal' })
    expect(found.entries.map(({ estimate }) => Math.round(1e5 * estimate.value))).toEqual([450, 650])
    expect(rankingSentence(found)).toMatch(/^Display A is first/)
  })
  it('names why a display has no number', () => {
    const found = compareDisplays([a, b], 'duration_mean', { kind: 'fastest-usable', refreshHz: 144 })
    expect(found.without).toEqual([{ name: 'Display B', reason: 'It was not measured at 144 Hz.' }])
    const none = display('Display D', {})
    expect(compareDisplays([none], 'duration_mean', { kind: 'whole-range', weighting: 'equal' }).without).toHaveLength(
      1,
    )
  })
  it('never sets unlike things side by side silently', () => {
    const other = display('Display E', { 60: 5 }, { recipeHash: 'bbbb', invented: false, levels: [0, 128, 255] })
    expect(alike([a, b]).leftOut).toEqual([])
    const found = alike([other, a, b])
    expect(found.displays.map(({ name }) => name)).toEqual(['Display A', 'Display B'])
    expect(found.leftOut).toEqual([
      {
        name: 'Display E',
        reason: 'It has another recipe (bbbb, not aaaa), other levels (0, 128, 255) and measured, not simulated, data.',
      },
    ])
  })
})
