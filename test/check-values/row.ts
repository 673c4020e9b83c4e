/** One published or computed number that the measuring must reproduce. */
export interface CheckRow {
  /** Row of the list of check values; a letter tells parts of one row apart. */
  readonly id: string
  readonly quantity: string
  readonly unit: string
  readonly expected: number
  /** Allowed difference: a share of the expected value, or in its unit. `at most`: the value may not exceed it. */
  readonly tolerance: number
  readonly kind: 'relative' | 'absolute' | 'at most'
  readonly source: string
  /** Whether the source was read, is quoted from memory, or the number was computed from a closed form. */
  readonly provenance: 'read' | 'from memory' | 'computed'
  /** Null when the program says that the quantity is undefined: then the row fails. */
  readonly got: () => number | null
}

/** A number without unit from a closed form or another program, right to within so much. */
export const computedRow = (
  id: string,
  quantity: string,
  expected: number,
  tolerance: number,
  source: string,
  got: CheckRow['got'],
): CheckRow => ({
  id,
  quantity,
  unit: '1',
  expected,
  tolerance,
  kind: 'absolute',
  source,
  provenance: 'computed',
  got,
})

export interface CheckedRow extends Omit<CheckRow, 'got'> {
  readonly got: number | null
  /** Difference over the allowed difference. */
  readonly share: number
  readonly pass: boolean
}

export function check(row: CheckRow): CheckedRow {
  const got = row.got()
  const allowed = row.kind === 'relative' ? row.tolerance * Math.abs(row.expected) : row.tolerance
  const difference =
    got === null ? Infinity : row.kind === 'at most' ? Math.max(0, got - row.expected) : Math.abs(got - row.expected)
  const share = difference === 0 ? 0 : difference / allowed
  return { ...row, got, share, pass: row.kind === 'at most' ? difference <= allowed : share <= 1 }
}
