import { fc } from '../support/fast-check.ts'
import { describe, expect, it } from 'vitest'
import { transitionsOf } from '#shared/domain/plan.ts'
import { walkOf } from '#shared/domain/walk.ts'

const levelSets = fc
  .uniqueArray(fc.integer({ min: 0, max: 255 }), { minLength: 2, maxLength: 17 })
  .map((levels) => levels.sort((a, b) => a - b))

describe('walk of a sweep', () => {
  it('visits every ordered pair once per repeat and never jumps', () => {
    fc.assert(
      fc.property(
        levelSets,
        fc.integer({ min: 1, max: 4 }),
        fc.integer({ min: 0, max: 0xffffffff }),
        (levels, repeats, seed) => {
          const walk = walkOf({ levels, repeats, seed })
          expect(walk.map((step) => step.position)).toEqual(walk.map((_, i) => i))
          for (let repeat = 1; repeat <= repeats; repeat++) {
            const pairs = walk.filter((step) => step.repeat === repeat).map(({ from, to }) => `${from}>${to}`)
            expect([...pairs].sort()).toEqual(
              transitionsOf(levels)
                .map(({ from, to }) => `${from}>${to}`)
                .sort(),
            )
          }
          for (const [i, step] of walk.entries()) if (i > 0) expect(step.from).toBe(walk[i - 1]?.to)
        },
      ),
      { numRuns: 200 },
    )
  })

  it('is the same for the same seed and another one for another seed', () => {
    const plan = { levels: [0, 51, 102, 153, 204, 255], repeats: 3 }
    expect(walkOf({ ...plan, seed: 7 })).toEqual(walkOf({ ...plan, seed: 7 }))
    expect(walkOf({ ...plan, seed: 7 })).not.toEqual(walkOf({ ...plan, seed: 8 }))
  })

  it('takes another circuit for each repeat, so that drift does not line up with levels', () => {
    const walk = walkOf({ levels: [0, 51, 102, 153, 204, 255], repeats: 2, seed: 1 })
    const order = (repeat: number): string =>
      walk
        .filter((step) => step.repeat === repeat)
        .map((step) => step.to)
        .join()
    expect(order(1)).not.toBe(order(2))
  })
})
