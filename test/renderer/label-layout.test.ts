import { describe, expect, it } from 'vitest'
import * as fc from 'fast-check'
import { placeLabels, type Box, type LabelRequest } from '../../src-renderer/plot/label-layout.ts'

const BOUNDS: Box = { left: 10, top: 5, width: 300, height: 150 }
const label = (x: number, y: number, sides: LabelRequest['sides'], width = 60): LabelRequest => ({
  x,
  y,
  sides,
  width,
  height: 14,
})

describe('label layout', () => {
  it('takes the preferred side when it is free', () => {
    const [box] = placeLabels([label(100, 80, ['right', 'left'])], BOUNDS, 4)
    expect(box).toEqual({ left: 104, top: 73, width: 60, height: 14 })
  })

  it('turns to the other side at the border', () => {
    const [box] = placeLabels([label(300, 80, ['right', 'left'])], BOUNDS, 4)
    expect(box?.left).toBe(236)
  })

  it('stacks labels that hug the top', () => {
    const boxes = placeLabels([label(100, 0, ['top-right']), label(105, 0, ['top-right'])], BOUNDS, 4)
    expect(boxes.map((box) => box?.top)).toEqual([5, 20])
  })

  it('does not cover a mark', () => {
    const mark: Box = { left: 120, top: 70, width: 10, height: 10 }
    const [box] = placeLabels([label(100, 75, ['right', 'left'])], BOUNDS, 4, [mark])
    expect(box?.left).toBe(36)
  })

  it('leaves out what finds no place rather than covering something', () => {
    const crowd = Array.from({ length: 8 }, () => label(100, 0, ['top-right']))
    const boxes = placeLabels(crowd, BOUNDS, 4)
    expect(boxes.filter((box) => box !== null)).toHaveLength(6)
  })

  it('never overlaps and never leaves the bounds', () => {
    const side = fc.constantFrom('right', 'left', 'above', 'below', 'top-right', 'top-left')
    const request = fc.record({
      x: fc.integer({ min: -20, max: 330 }),
      y: fc.integer({ min: -20, max: 180 }),
      width: fc.integer({ min: 5, max: 120 }),
      height: fc.integer({ min: 5, max: 20 }),
      sides: fc.array(side, { minLength: 1, maxLength: 4 }),
    })
    fc.assert(
      fc.property(fc.array(request, { maxLength: 12 }), (requests) => {
        const boxes = placeLabels(requests, BOUNDS, 4).filter((box) => box !== null)
        boxes.forEach((a, i) => {
          expect(a.left >= 10 && a.top >= 5 && a.left + a.width <= 310 && a.top + a.height <= 155).toBe(true)
          for (const b of boxes.slice(i + 1)) {
            const apart =
              a.left + a.width <= b.left ||
              b.left + b.width <= a.left ||
              a.top + a.height <= b.top ||
              b.top + b.height <= a.top
            expect(apart).toBe(true)
          }
        })
      }),
    )
  })
})
