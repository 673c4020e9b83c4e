/** Pulses of known shape: truth is the closed form beside each check. */
import { describe, expect, it } from 'vitest'
import { strobePulse } from '#shared/light/strobe.ts'
import { strobePart } from '#shared/record/strobe-part.ts'
import { strobePoints } from '#shared/record/strobe-points.ts'
import type { Reading } from '#shared/domain/reading.ts'

const RATE = 100_000
const HZ = 120
const T = 1 / HZ

/** Light of a periodic pulse that opens `openS` after each frame's start; the record begins `beforeS` after one. */
function record(shape: (sinceOpenS: number) => number, openS: number, beforeS: number, noise = 0): Float64Array {
  let state = 12_345
  const random = (): number => {
    state = (state * 1_103_515_245 + 12_345) % 2_147_483_648
    return state / 2_147_483_648 - 0.5
  }
  return Float64Array.from({ length: 24_000 }, (_, i) => {
    const phase = (((i / RATE + beforeS - openS) % T) + T) % T
    return shape(phase) + noise * random()
  })
}

describe('a strobe’s pulse', () => {
  it('of a rectangle has its own width, and its middle for a phase', () => {
    const [w, open, before] = [0.001, 0.0078, 0.0031]
    // 7.8 ms + w/2 is 8.3 ms of 8.333 ms.
    const light = record((s) => (s < w ? 2 : 0), open, before, 0.02)
    const found = strobePulse(light, RATE, HZ, HZ, -before)
    expect(Math.abs((found?.widthMs.value ?? 0) - 1)).toBeLessThan(2 * (found?.widthMs.u ?? 0) + 0.01)
    expect(found?.dutyPct.value).toBeCloseTo(12, 0)
    expect(found?.phaseMs?.value).toBeCloseTo(8.3, 2)
    expect(found?.phaseMs?.u).toBeLessThan(0.02)
    expect(found?.pulsesPerFrame).toBe(1)
  })

  it('that decays as an exponential has its time constant for a width, and the phase of its first harmonic', () => {
    const tau = 0.0005
    // Sum of all earlier pulses too: e^(−s/τ)/(1 − e^(−T/τ)); (T/2π)·atan(2πτ/T) = 0.478148 ms.
    const found = strobePulse(
      record((s) => Math.exp(-s / tau) / (1 - Math.exp(-T / tau)), 0, 0),
      RATE,
      HZ,
      HZ,
      0,
    )
    expect(found?.phaseMs?.value).toBeCloseTo((T / (2 * Math.PI)) * Math.atan((2 * Math.PI * tau) / T) * 1000, 2)
    // The height is the mean of the highest tenth above half: of e^(−t/τ) over 0…0.1·ln 2·τ, (1 − e^(−0.0693))/0.0693.
    const top = (1 - 0.5 ** 0.1) / (0.1 * Math.LN2)
    expect(Math.abs((found?.widthMs.value ?? 0) / (0.5 / top) - 1)).toBeLessThan(0.02)
  })

  it('twice a frame is told, and a record too short or dark has none', () => {
    const twice = Float64Array.from({ length: 24_000 }, (_, i) => ((i / RATE) % (T / 2) < 0.0005 ? 1 : 0))
    expect(strobePulse(twice, RATE, 2 * HZ, HZ, 0)).toMatchObject({ pulsesPerFrame: 2 })
    expect(strobePulse(twice.subarray(0, 1500), RATE, HZ, HZ, 0)).toBeNull()
    expect(strobePulse(new Float64Array(24_000), RATE, HZ, HZ, 0)).toBeNull()
    expect(strobePulse(twice, RATE, 2 * HZ, HZ, null)?.phaseMs).toBeNull()
  })
})

let next = 0
const point = (change: Partial<Reading>): Reading => ({
  id: ++next,
  campaignId: 1,
  sweepId: null,
  kind: 'strobe',
  quantity: 'crosstalk',
  unit: '%',
  value: 9.5,
  series: null,
  u: 0.25,
  source: '',
  place: 'centre',
  note: '',
  setting: 'Gentle, strobing',
  refreshHz: 120,
  at: '2026-01-01T00:00:00Z',
  addedAt: '2026-01-01T00:00:00Z',
  hidden: false,
  ...change,
})

describe('strobing by place in the record', () => {
  it('takes the newest of each place with its uncertainty, and nothing hidden or of another setting', () => {
    const readings = [
      point({ value: 1 }),
      // As earlier versions and their bundles have it: in the note alone.
      point({ value: 1.5, place: 'top', note: 'Setting Off at 60 Hz. Sequence 3.', setting: null, refreshHz: null }),
      point({ value: 9.5 }),
      point({ value: 50, place: 'bottom' }),
      point({ value: 77, hidden: true }),
      point({ value: 3, place: 'elsewhere' }),
      point({ value: 3, note: 'typed', setting: null, refreshHz: null }),
    ]
    expect(strobePoints(readings).map(({ setting, place, value }) => [setting, place, value])).toEqual([
      ['Gentle, strobing', 'centre', 9.5],
      ['Off', 'top', 1.5],
      ['Gentle, strobing', 'bottom', 50],
    ])
    const { places, quantity } = strobePart(readings)
    expect(places.map(({ row, crosstalkPct, widthMs }) => [row, crosstalkPct, widthMs])).toEqual([
      [0.5, 9.5, null],
      [0.95, 50, null],
    ])
    expect(quantity.figures[0]).toMatchObject({ label: 'Crosstalk at 50 % of the height', value: 9.5, u95: 0.5 })
    expect(quantity.missing).toContain('Pulse, phase and crosstalk at top, centre and bottom.')
  })
})
