/** A bench that changes during a campaign is told of, and one that does not is left in peace; `npm run planted` does many. */
import { describe, expect, it } from 'vitest'
import { doubts, runPlanted } from './planted.ts'

describe('a campaign', () => {
  it.for([
    ['moved sensor', 3],
    ['drifting lamp', 4],
  ] as const)('whose bench has a %s is flagged after the sweep that shows it', async ([planted, seed]) => {
    const outcome = await runPlanted(planted, seed)
    expect(doubts(outcome).join('\n'), outcome.what).toMatch(/^White .* first sweep/)
  })
  it('on a sound bench ends without a stop or a doubt', async () => {
    const outcome = await runPlanted('sound', 5)
    expect(outcome.stopped).toBeNull()
    expect(doubts(outcome)).toEqual([])
  })
})
