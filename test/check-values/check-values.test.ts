import { describe, expect, it } from 'vitest'
import { ALL_ROWS } from './all-rows.ts'
import { check } from './row.ts'

describe('check values', () => {
  it.each(ALL_ROWS.map((row) => [row.id, row.quantity, row] as const))('row %s: %s', (_id, _quantity, row) => {
    const checked = check(row)
    expect(
      checked.pass,
      `expected ${checked.expected} ${checked.unit}, got ${checked.got} (tolerance ${checked.tolerance}, ${checked.kind})`,
    ).toBe(true)
  })

  it('has no row twice', () => {
    expect(new Set(ALL_ROWS.map((row) => row.id)).size).toBe(ALL_ROWS.length)
  })
})
