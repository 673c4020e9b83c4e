import { expect, it } from 'vitest'
import { placeValue } from '../../src-renderer/features/record/place-value.ts'

it.each([
  // One column: a row each.
  ['', 200.3, 0, 1, '200.3\n'],
  ['200.3\n', 199, 0, 1, '200.3\n199\n'],
  ['200.3', 199, 0, 1, '200.3\n199\n'],
  // Grey level typed, luminance read.
  ['255', 200.3, 1, 2, '255 200.3\n'],
  ['255 200.3\n128 ', 43, 1, 2, '255 200.3\n128 43\n'],
  ['0; 0.2\n128;', 43, 1, 2, '0; 0.2\n128; 43\n'],
  // Power is read, luminance and area follow.
  ['', 27.4, 0, 3, '27.4 '],
])('%j with %d', (text, value, column, columns, expected) => {
  expect(placeValue(text, value, column, columns)).toBe(expected)
})
