/** Which runs of a record are compared: by height, and display, reference, display of one go. */
import { describe, expect, it } from 'vitest'
import { newReadingSchema, type Reading } from '#shared/domain/reading.ts'
import { blockText } from '#shared/latency/blocks.ts'
import { latencyPart } from '#shared/record/latency-part.ts'
import { uniformSource } from './closed-form.ts'

const HZ = 60
const FRAME = 1000 / HZ
const SCAN = 0.95 * FRAME

/** Events of a synchronised display: fixed parts, scan to the height, wait for a frame. */
function run(id: number, fixedMs: number, row: number, reference: boolean, place = 'a place', n = 100): Reading {
  const uniform = uniformSource(id)
  return {
    ...newReadingSchema.parse({
      campaignId: 1,
      kind: reference ? 'input-latency-run-reference' : 'input-latency-run',
      quantity: 'Input latency',
      unit: 'ms',
      series: Array.from({ length: n }, () => fixedMs + SCAN * row + FRAME * uniform()).flatMap((ms) => [
        HZ,
        row,
        ms - 1,
        ms,
      ]),
      u: 0.01,
      place,
      at: '2000-01-01T00:00:00Z',
    }),
    id,
    addedAt: '2000-01-01T00:00:00Z',
    hidden: false,
  }
}

describe('runs of a record', () => {
  it('are compared at the same height only: a scan is no delay of the display', () => {
    const alike = latencyPart([
      run(1, 12, 0.05, true),
      run(2, 10, 0.5, true),
      run(3, 17, 0.05, false),
      run(4, 15, 0.5, false),
    ])
    // 5 ms; the centre runs differ by 5 ± 1.3 ms, those of unequal height would by 12.
    expect(Math.abs((alike.signalDelay?.value ?? 0) - 5)).toBeLessThan(2 * 1.34)
    const other = latencyPart([run(1, 10, 0.05, true), run(2, 15, 0.5, false)])
    expect(other.signalDelay).toBeNull()
    expect(other.quantity.missing.join(' ')).toMatch(/at the height of the display’s own/)
  })

  it('at three heights give each height and the scan between them', () => {
    const rows = [0.05, 0.5, 0.95]
    const { quantity, presentation } = latencyPart(rows.map((row, i) => run(i + 1, 15, row, false, 'a place', 200)))
    for (const row of rows) {
      const label = `Event to light, mean at ${Math.round(100 * row)} % of the height from the top`
      const figure = quantity.figures.find((one) => one.label === label)
      expect(Math.abs((figure?.value ?? 0) - (15 + row * SCAN + FRAME / 2)), label).toBeLessThan(2 * (figure?.u95 ?? 0))
    }
    expect(presentation?.verdict).toBe('synchronised')
    expect(Math.abs((presentation?.slope ?? 0) - SCAN)).toBeLessThan(2 * (presentation?.u95 ?? 0))
  })

  it('display, reference, display: an even drift cancels and is told, a display run apart is left out', () => {
    const drifting = [
      run(1, 40, 0.5, false),
      run(2, 15, 0.5, false, `centre${blockText('first')}`),
      run(3, 12, 0.5, true, `centre${blockText('reference')}`, 200),
      run(4, 19, 0.5, false, `centre${blockText('last')}`),
    ]
    const { signalDelay, display, quantity } = latencyPart(drifting)
    expect(display?.n).toBe(200)
    // (15 + 19)/2 − 12: the host slowed down by 2 ms a block.
    expect(Math.abs((signalDelay?.value ?? 0) - 5)).toBeLessThan(2 * (signalDelay?.u95 ?? 0))
    expect(signalDelay?.u95).toBeLessThan(1.2)
    const drift = quantity.figures.find(({ label }) => label.startsWith('Drift'))
    expect(drift?.note).toMatch(/drifted between them/)
    expect(Math.abs((drift?.value ?? 0) - 4)).toBeLessThan(2 * (drift?.u95 ?? 0))
  })
})
