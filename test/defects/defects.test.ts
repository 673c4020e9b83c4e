/**
 * The flags find what is planted: 1,500 captures with 20 of every kind (denser than the 1 % of `npm run defects`, so
 * that recall means something; precision is that of the dense archive, where sound captures are fewer a defect).
 */
import { describe, expect, it } from 'vitest'
import { DEFECT_KINDS, judge, KINDS } from './kinds.ts'
import { ALPHA } from '#shared/measure/flags/budget.ts'
import { BOUND } from './report.ts'
import { scoresOf, tallyOf } from './score.ts'

describe('planted defects', () => {
  it('are found, and nothing else is', () => {
    const tally = tallyOf({ seed: 501, captures: 1500, perKind: 20 })
    for (const { kind, planted, recall, misses } of scoresOf(tally)) {
      expect(planted, kind).toBe(20)
      // An outlier is planted whether or not the spread of its own repeats can show it; of those that it can, see below.
      const bound = kind === 'outlier' ? 0.75 : BOUND
      expect(recall ?? 0, `${kind}: ${misses.join('\n')}`).toBeGreaterThanOrEqual(bound)
    }
    expect(tally.standing.planted).toBeGreaterThanOrEqual(10)
    expect(tally.standing.found / tally.standing.planted).toBeGreaterThanOrEqual(BOUND)
    const flags = Object.values(KINDS).map(({ flag }) => flag as string)
    const doubted = Object.entries(tally.soundFlags).filter(([id]) => flags.includes(id))
    // A sound record is flagged in 1 % by design.
    expect(doubted.reduce((sum, [, count]) => sum + count, 0) / tally.sound).toBeLessThan(ALPHA)
  })

  it('are judged by one table: every kind has its flag, and no kind excuses a flag on a sound capture', () => {
    expect(new Set(Object.values(KINDS).map(({ flag }) => flag)).size).toBe(DEFECT_KINDS.length)
    for (const kind of DEFECT_KINDS) {
      expect(judge(KINDS[kind].flag, kind)).toBe('found')
      expect(judge(KINDS[kind].flag, null)).toBe('false')
    }
    expect(judge('ladder-disagrees', 'saturation')).toBe('true')
    expect(judge('edge-out-of-frame', 'double-step')).toBe('false')
  })
})
