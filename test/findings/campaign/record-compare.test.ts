import { describe, expect, it } from 'vitest'
import {
  compareRecords,
  conditionsText,
  differenceText,
  type RecordedDisplay,
  recordRankingSentence,
} from '#shared/findings/campaign/record-compare.ts'
import { ownEstimate, type Conditions, type RecordFigureId, type RecordValue } from '#shared/record/figures.ts'

const value = (
  figure: RecordFigureId,
  number: number,
  u: number | null,
  conditions: Conditions,
  atLeast = false,
): RecordValue => ({ figure, estimate: ownEstimate(number, u), atLeast, conditions, readingIds: [] })
const display = (name: string, record: readonly RecordValue[], invented = true): RecordedDisplay => ({
  name,
  invented,
  record,
})

describe('records compared', () => {
  const meter = { by: 'meter' }
  const white = (name: string, luminance: number, u: number | null, conditions: Conditions = meter) =>
    display(name, [value('white_luminance', luminance, u, conditions)])

  it('ranks like with like and gives the difference from the first with its U95', () => {
    const found = compareRecords([white('A', 250, 2), white('B', 300, 3), white('C', 297, 3)], 'white_luminance')
    expect(found.entries.map(({ name }) => name)).toEqual(['B', 'C', 'A'])
    expect(found.ranking.ranked.map(({ letters }) => letters)).toEqual(['a', 'a', 'b'])
    // 1.959964·√(3² + 2²), the uncertainties being known well.
    expect(found.entries[2]?.fromFirst?.value).toBe(-50)
    expect(found.entries[2]?.fromFirst?.u95).toBeCloseTo(1.959964 * Math.sqrt(13), 4)
    expect(differenceText({ value: -50, u95: 7.0667 })).toBe('−50.0 ± 7.1')
    expect(recordRankingSentence(found)).toBe('In luminance of white, B is not shown to differ from C.')
  })

  it('refuses what was measured otherwise, and says how', () => {
    const found = compareRecords(
      [white('A', 250, 2), white('B', 300, 3), white('C', 297, 3, { by: 'detector' }), display('D', [])],
      'white_luminance',
    )
    expect(found.entries.map(({ name }) => name)).toEqual(['B', 'A'])
    expect(found.without).toEqual([
      { name: 'C', reason: 'It was measured otherwise: by detector, not meter.' },
      { name: 'D', reason: 'Its record has no value for this figure.' },
    ])
    const mixed = compareRecords(
      [white('A', 250, 2), display('M', [value('white_luminance', 250, 2, meter)], false)],
      'white_luminance',
    )
    expect(mixed.without).toEqual([{ name: 'M', reason: 'It was measured otherwise: measured, not simulated, data.' }])
  })

  it('takes numbers of conditions within 5 %, and the picture that most displays share', () => {
    const power = (watts: number, picture: string, luminance: number): RecordValue =>
      value('power_w', watts, 0.2, { picture, 'cd/m²': luminance })
    const found = compareRecords(
      [
        display('A', [power(14, 'black', 0.3), power(27, 'white', 250)]),
        display('B', [power(30, 'white', 258)]),
        display('C', [power(20, 'white', 180)]),
      ],
      'power_w',
    )
    expect(found.entries.map(({ name }) => name)).toEqual(['A', 'B'])
    expect(found.without[0]?.reason).toBe('It was measured otherwise: cd/m² 180, not 250.')
    expect(conditionsText(found.conditions)).toBe('white, 250 cd/m²')
  })

  it('tells conditions in words, and other patches of the same number apart', () => {
    const of = (sum: number, count = 24): Conditions => ({ patches: `${count} patches, codes adding up to ${sum}` })
    expect(conditionsText({ ...of(9000), black: 'subtracted' })).toBe('24 patches, black subtracted')
    const mean = (name: string, conditions: Conditions) => display(name, [value('de2000_mean', 1, 0.1, conditions)])
    const found = compareRecords(
      [mean('A', of(9000)), mean('B', of(9000)), mean('C', of(8000)), mean('D', of(8000, 18))],
      'de2000_mean',
    )
    expect(found.without.map(({ reason }) => reason)).toEqual([
      'It was measured otherwise: other patches.',
      'It was measured otherwise: 18 patches, not 24 patches.',
    ])
  })

  it('lets a bound or a value without uncertainty differ from nothing, and gives gamma no winner', () => {
    const contrast = compareRecords(
      [display('A', [value('contrast', 1000, 5, meter)]), display('B', [value('contrast', 9000, null, meter, true)])],
      'contrast',
    )
    expect(contrast.ranking.differs(0, 1)).toBe(false)
    expect(contrast.entries[1]?.fromFirst).toBeNull()
    const gamma = compareRecords(
      [display('A', [value('gamma', 2.2, 0.01, meter)]), display('B', [value('gamma', 2.4, 0.01, meter)])],
      'gamma',
    )
    expect(recordRankingSentence(gamma)).toBe('In gamma, 1 of 1 differ from A; neither end is better by itself.')
  })
})
