import { describe, expect, it } from 'vitest'
import type { Reading } from '#shared/domain/reading.ts'
import { measurePeriodic } from '#shared/measure/periodic.ts'
import { readingsOfLight, storedBefore } from '#shared/record/light-readings.ts'
import { DEFAULT_CHOICE, displayRecord, isOfRecord, recordValues } from '#shared/record/record.ts'

const RATE = 25_000
/** A rectangle of light: 120 Hz, a tenth of the period lit. */
function strobed() {
  const samples = Float32Array.from({ length: RATE }, (_, i) => (((i * 120) / RATE) % 1 < 0.1 ? 1 : 0.001))
  return measurePeriodic(
    { format: 'real32', samples, sampleRateHz: RATE, scaleV: 1, offsetV: 0, rangeV: 5 },
    { darkV: 0 },
  )
}
const origin = {
  campaignId: 1,
  sweepId: null,
  place: 'centre, level 255, Gentle at 120 Hz',
  source: 'capture 7, after the change',
  note: '',
  at: '2026-01-01T00:00:00Z',
}
const asStored = (readings: ReturnType<typeof readingsOfLight>, from = 1): Reading[] =>
  readings.map((reading, i) => ({ ...reading, id: from + i, addedAt: reading.at, hidden: false }))

describe('light on the record', () => {
  const made = readingsOfLight(strobed(), origin)
  const of = (kind: string) => made.find((one) => one.kind === kind)

  it('has a reading for every number, with its unit and u, and the pulse width', () => {
    // A tenth of 1/120 s, read to a sample at either edge.
    expect(of('light-pulse-width-ms')?.value).toBeGreaterThan(0.8333 - 0.08)
    expect(of('light-pulse-width-ms')?.value).toBeLessThan(0.8333 + 0.08)
    expect(of('light-pulse-width-ms')?.unit).toBe('ms')
    // (1 − 0.001)/(1 + 0.001).
    expect(of('light-percent-flicker-pct')?.value).toBeCloseTo(99.8, 1)
    expect(of('light-fundamental-hz')?.value).toBeCloseTo(120, 2)
    expect(made.every(({ place, source }) => place === origin.place && source === origin.source)).toBe(true)
    expect(made.every(isOfRecord)).toBe(true)
  })

  it('shows on the record with its source, the newest press of a light, hidden ones not', () => {
    const first = asStored(made)
    const second = asStored(readingsOfLight(strobed(), { ...origin, at: '2026-01-02T00:00:00Z' }), 100)
    const record = displayRecord([...first, ...second], null, DEFAULT_CHOICE)
    const { figures, readingIds } = record.strobe.quantity
    expect(new Set(figures.map(({ label }) => label)).size).toBe(figures.length)
    expect(figures[0]?.label).toBe(
      'Light, centre, level 255, Gentle at 120 Hz (capture 7, after the change): Fundamental',
    )
    expect(readingIds.every((id) => id >= 100)).toBe(true)
    expect(recordValues(record)).toMatchObject([{ figure: 'percent_flicker', conditions: { light: origin.place } }])
    const taken = [...first, ...second].map((reading) => ({ ...reading, hidden: true }))
    expect(displayRecord(taken, null, DEFAULT_CHOICE).strobe.quantity.figures).toEqual([])
  })

  it('is known to be stored already', () => {
    expect(storedBefore(asStored(made), origin)).toHaveLength(made.length)
    expect(storedBefore(asStored(made), { ...origin, place: 'top' })).toEqual([])
    expect(
      storedBefore(
        asStored(made).map((reading) => ({ ...reading, hidden: true })),
        origin,
      ),
    ).toEqual([])
  })
})
