import { describe, expect, it } from 'vitest'
import { moveInList, pagesFor } from '../../src-renderer/features/traces/list-moves.ts'

describe('moves in the list', () => {
  it('steps, pages and jumps, and stops at both ends', () => {
    expect(moveInList(4, 'ArrowDown', 10, 5)).toBe(5)
    expect(moveInList(9, 'ArrowDown', 10, 5)).toBe(9)
    expect(moveInList(0, 'ArrowUp', 10, 5)).toBe(0)
    expect(moveInList(2, 'PageDown', 10, 5)).toBe(6)
    expect(moveInList(2, 'PageUp', 10, 5)).toBe(0)
    expect(moveInList(2, 'Home', 10, 5)).toBe(0)
    expect(moveInList(2, 'End', 10, 5)).toBe(9)
  })

  it('leaves other keys alone, and every key of an empty list', () => {
    expect(moveInList(2, 'a', 10, 5)).toBeNull()
    expect(moveInList(null, 'ArrowDown', 0, 5)).toBeNull()
  })

  it('begins at the near end', () => {
    expect(moveInList(null, 'ArrowDown', 10, 5)).toBe(0)
    expect(moveInList(null, 'ArrowUp', 10, 5)).toBe(9)
  })

  it('goes on beside the row that has just left the list', () => {
    expect(moveInList(null, 'ArrowDown', 9, 5, 4)).toBe(4)
    expect(moveInList(null, 'ArrowUp', 9, 5, 4)).toBe(3)
    expect(moveInList(null, 'ArrowDown', 9, 5, 0)).toBe(0)
    expect(moveInList(null, 'ArrowDown', 4, 5, 4)).toBe(3)
    expect(moveInList(null, 'ArrowUp', 9, 5, 0)).toBe(0)
  })
})

it('asks for the pages that hold the rows in view', () => {
  expect(pagesFor(0, 30)).toEqual([0])
  expect(pagesFor(95, 130)).toEqual([0, 1])
  expect(pagesFor(19_999, 19_999)).toEqual([199])
})
