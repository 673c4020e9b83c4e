import { describe, expect, it } from 'vitest'
import { fc } from '../support/fast-check.ts'
import { clearOf, spreadLabels } from '../../src-renderer/plot/spread-labels.ts'

/** Middles of labels, each wanted at a height with a size, in a gutter of 100. */
const placed = (...labels: [number, number][]): ReturnType<typeof spreadLabels> =>
  spreadLabels(
    labels.map(([at, size]) => ({ at, size })),
    0,
    100,
  )

describe('labels in a gutter', () => {
  it('stay where they want to be when there is room', () => {
    expect(placed([80, 14], [20, 14])).toEqual([80, 20])
  })

  it('part evenly when they want the same place, in the order asked', () => {
    expect(placed([50, 10], [50, 10])).toEqual([45, 55])
  })

  it('stay within the ends', () => {
    expect(placed([-20, 10], [0, 10])).toEqual([5, 15])
  })

  it('leave out the last asked where they do not fit', () => {
    const crowd = Array.from({ length: 8 }, () => ({ at: 30, size: 15 }))
    expect(spreadLabels(crowd, 0, 60).filter((at) => at !== null)).toHaveLength(4)
    expect(spreadLabels(crowd, 0, 60).slice(4)).toEqual([null, null, null, null])
  })

  it('never overlap, never leave the ends, and keep their order', () => {
    const request = fc.record({ at: fc.integer({ min: -50, max: 350 }), size: fc.integer({ min: 1, max: 40 }) })
    fc.assert(
      fc.property(fc.array(request, { maxLength: 14 }), (requests) => {
        const placed = spreadLabels(requests, 10, 310)
        const seen = requests.flatMap((label, i) => {
          const middle = placed[i] ?? null
          return middle === null ? [] : [{ ...label, middle }]
        })
        for (const { middle, size } of seen) {
          expect(middle - size / 2).toBeGreaterThanOrEqual(10 - 1e-9)
          expect(middle + size / 2).toBeLessThanOrEqual(310 + 1e-9)
        }
        const inOrder = seen.toSorted((a, b) => a.middle - b.middle)
        for (let i = 1; i < inOrder.length; i += 1) {
          const [a, b] = [inOrder[i - 1]!, inOrder[i]!]
          expect(b.middle - a.middle).toBeGreaterThanOrEqual((a.size + b.size) / 2 - 1e-9)
          expect(a.at).toBeLessThanOrEqual(b.at)
        }
      }),
      { seed: 20251129, numRuns: 400 },
    )
  })
})

describe('a name between two ends', () => {
  it('stands in the middle, unless a line passes there', () => {
    expect(clearOf([], 0, 100, 20)).toBe(50)
    expect(clearOf([5, 200], 0, 100, 20)).toBe(50)
    expect(clearOf([45], 0, 100, 20)).toBe(65)
    expect(clearOf([60], 0, 100, 20)).toBe(40)
  })

  it('stays in the middle where no gap is wide enough', () => {
    expect(clearOf([30, 60], 0, 90, 20)).toBe(45)
  })
})
