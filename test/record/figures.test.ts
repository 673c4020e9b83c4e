import { describe, expect, it } from 'vitest'
import { newReadingSchema, type Reading } from '#shared/domain/reading.ts'
import { recordKind, seriesOf, type RecordKindId } from '#shared/domain/record-kinds.ts'
import { spreadOf } from '#shared/record/draws.ts'
import type { RecordFigureId } from '#shared/record/figures.ts'
import { DEFAULT_CHOICE, displayRecord, recordValues } from '#shared/record/record.ts'

let id = 0
function reading(kind: RecordKindId, rows: readonly (readonly number[])[], more: Partial<Reading> = {}): Reading {
  id += 1
  return {
    ...newReadingSchema.parse({
      campaignId: 1,
      kind,
      quantity: recordKind(kind).label,
      unit: recordKind(kind).unit,
      series: seriesOf(kind, rows),
      at: '2026-01-01T00:00:00Z',
      u: more.u ?? null,
      place: more.place ?? '',
    }),
    id,
    addedAt: '2026-01-01T00:00:00Z',
    hidden: false,
  }
}
const valuesOf = (readings: readonly Reading[], figure: RecordFigureId) =>
  recordValues(displayRecord(readings, null, DEFAULT_CHOICE)).filter((value) => value.figure === figure)

describe('figures of the record', () => {
  it('follow the uncertainty of readings through to what is made of them', () => {
    // Mean of 16 values and their sum: u/4 and 4 u in closed form; 80 draws know u to 8 %, here within three times that.
    const [mean = null, sum = null] = spreadOf(
      Array.from({ length: 16 }, () => 100),
      2,
      (drawn) => {
        const total = drawn.reduce((a, b) => a + b, 0)
        return [total / 16, total]
      },
    )
    expect(mean).toBeGreaterThan(0.5 * 0.76)
    expect(mean).toBeLessThan(0.5 * 1.24)
    expect(sum).toBeCloseTo(16 * (mean ?? 0), 9)
    expect(spreadOf([1, 2], null, (drawn) => drawn)).toEqual([null, null])
  })

  it('state what they were measured under, and power over its light with the uncertainty of the power', () => {
    const power = reading('power', [[30, 200, 0.2009]], { u: 0.3, place: 'white' })
    const [perCd] = valuesOf([power], 'power_per_cd')
    // 30 W over 200 cd/m² on 0.2009 m²; u in proportion.
    expect(perCd?.estimate.value).toBeCloseTo(30 / 40.18, 6)
    expect(perCd?.estimate.u).toBeCloseTo(0.3 / 40.18, 6)
    expect(perCd?.conditions).toEqual({ picture: 'white', 'cd/m²': 200 })
    expect(perCd?.readingIds).toEqual([power.id])
    // Of a black picture watts over its light tell of black alone.
    const black = reading('power', [[14, 0.3, 0.2009]], { u: 0.3, place: 'black' })
    expect(valuesOf([black], 'power_per_cd')).toEqual([])
    expect(valuesOf([black], 'power_w')).toHaveLength(1)
  })

  it('give contrast as a bound where black lies in the noise, and the worst crosstalk whatever its sign', () => {
    const ladder = reading(
      'luminance-ladder',
      [0, 64, 128, 192, 255].map((code) => [code, code === 0 ? 0 : 240 * (code / 255) ** 2.2]),
      { u: 0.05 },
    )
    expect(valuesOf([ladder], 'contrast')[0]).toMatchObject({ atLeast: true, conditions: { by: 'meter' } })
    const strobe = reading('strobe-by-place', [
      [0.05, 1, 7.8, 12, 1.5],
      [0.5, 1, 7.8, 12, -9.5],
      [0.95, 1, 7.8, 12, 4],
    ])
    expect(valuesOf([strobe], 'strobe_crosstalk')[0]?.estimate).toMatchObject({ value: 9.5, u: null })
  })
})
