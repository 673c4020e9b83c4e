import { expect, it } from 'vitest'
import { RECORD_KIND_IDS, recordKind, seriesOf } from '#shared/domain/record-kinds.ts'
import { DEFAULT_CHOICE, displayRecord, quantitiesOf } from '#shared/record/record.ts'

/** Rows of a kind whose numbers are about so large, or as its columns allow. */
function rowsAbout(size: number, id: (typeof RECORD_KIND_IDS)[number]): number[][] {
  const { columns, rows = [3] } = recordKind(id)
  return Array.from({ length: rows[0] ?? 1 }, (_, i) =>
    columns.map(({ min = -Infinity, max = Infinity }, k) => Math.min(max, Math.max(min, (size * (i + 1)) / (k + 1)))),
  )
}

it.each(RECORD_KIND_IDS)('%s: what no display has is refused; what is taken gives finite figures', (id) => {
  for (const beyond of [1e155, 1e308, 1e-320]) {
    const rows = rowsAbout(beyond, id)
    const { columns } = recordKind(id)
    const unbounded = columns.findIndex(({ min, max }) =>
      beyond < 1 ? min === undefined || min === 0 : max === undefined,
    )
    if (unbounded >= 0) expect(() => seriesOf(id, rows), `${beyond}`).toThrow(/is not possible/)
  }
  for (const size of [0, 1e-9, 1, 1e8]) {
    const series = seriesOf(id, rowsAbout(size, id))
    const reading = {
      id: 1,
      addedAt: '',
      hidden: false,
      campaignId: 1,
      sweepId: null,
      kind: id,
      quantity: 'Invented',
      unit: '1',
      value: null,
      series,
      u: size,
      source: '',
      place: '',
      note: '',
      setting: null,
      refreshHz: null,
      at: '2030-01-01T00:00:00Z',
    }
    const told = quantitiesOf(displayRecord([reading], null, DEFAULT_CHOICE))
    const numbers: number[] = []
    JSON.stringify(told, (_, value: unknown) => {
      if (typeof value === 'number') numbers.push(value)
      return value
    })
    expect(
      numbers.filter((value) => !Number.isFinite(value)),
      `${size}`,
    ).toEqual([])
    expect(JSON.stringify(told), `${size}`).not.toMatch(/NaN|Infinity/)
  }
})
