import { describe, expect, it } from 'vitest'
import { cellStatistics } from '#shared/findings/matrix.ts'
import { meanUncertainty } from '#shared/signal/statistics.ts'
import { GUM } from '../check-values/statistics-rows.ts'
import { durations, entry, matrix } from './fixture.ts'

const D = 'transition_duration_s'

describe('cell statistics', () => {
  it('agrees with the worked series of the GUM', () => {
    const { mean, s, u95 } = meanUncertainty(GUM)
    const [cell] = cellStatistics(matrix([0, 255], { '0-255': durations(...GUM) }), D)
    expect(cell).toMatchObject({ n: 20, mean, s, u95 })
    expect(cell?.median).toBeCloseTo(100.2, 10)
    expect([cell?.min, cell?.max]).toEqual([96.9, 102.72])
    expect(cell?.note).toBe('')
  })

  it('says that four repeats give no usable uncertainty, and states t·s/√n from five on', () => {
    const [cell] = cellStatistics(matrix([0, 255], { '0-255': durations(1, 2, 3, 4) }), D)
    expect(cell?.note).toMatch(/^No usable uncertainty: 4 captures/)
    expect(cell?.u95).toBeNull()
    const [five] = cellStatistics(matrix([0, 255], { '0-255': durations(1, 2, 3, 4, 5) }), D)
    expect(five?.u95).toBeCloseTo(1.242 * Math.sqrt(2.5), 2) // t/√n for n = 5, computed
    expect(five?.note).toBe('')
  })

  it('has no spread for one capture and nothing for none', () => {
    const [up, down] = cellStatistics(matrix([0, 255], { '0-255': durations(0.004) }), D)
    expect(up).toMatchObject({ n: 1, mean: 0.004, s: null, u95: null })
    expect(down).toMatchObject({ from: 255, to: 0, n: 0, mean: null, min: null, median: null, note: '' })
  })

  it('counts what is excluded, undefined, missing, flagged and overridden, and keeps it out of the mean', () => {
    const data = matrix([0, 255], {
      '0-255': [
        entry(1, { [D]: 1 }),
        entry(2, { [D]: 3 }, { flagCount: 2 }),
        entry(3, { [D]: 100 }, { excluded: true, flagCount: 1 }),
        entry(4, { [D]: null }, { flagCount: 1 }),
        entry(5, {}),
        entry(6, { [D]: 5 }, { overridden: true }),
      ],
    })
    expect(cellStatistics(data, D, 8)[0]).toMatchObject({
      n: 3,
      mean: 3,
      excluded: 1,
      withoutValue: 2,
      missing: 2,
      flagged: 1,
      overridden: 1,
    })
    expect(cellStatistics(data, D)[0]?.missing).toBeNull()
    expect(cellStatistics(data, D, 8)[1]).toMatchObject({ n: 0, missing: 8 })
  })

  it('keeps a zero as a value', () => {
    expect(cellStatistics(matrix([0, 9], { '0-9': durations(0, 0) }), D)[0]).toMatchObject({ n: 2, mean: 0, s: 0 })
  })

  it('gives one cell per ordered pair of the plan, in reading order, and keeps pairs outside of it', () => {
    const cells = cellStatistics(matrix([0, 51, 255], { '255-0': durations(1), '0-7': durations(2) }), D)
    expect(cells.map(({ from, to }) => `${from}-${to}`)).toEqual([
      '0-7',
      '0-51',
      '0-255',
      '51-0',
      '51-255',
      '255-0',
      '255-51',
    ])
  })
})
