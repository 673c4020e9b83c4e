import { describe, expect, it } from 'vitest'
import type { Ladder } from '#shared/domain/capture.ts'
import type { Landmarks } from '#shared/domain/result.ts'
import { cursorDifference, readAt } from '../../src-renderer/features/traces/cursor-reading.ts'
import { cursorWords } from '../../src-renderer/features/traces/cursor-row.tsx'

const line = { x: Float64Array.of(0, 1, 2), min: Float32Array.of(0, 1, 4), max: Float32Array.of(0, 1, 4) }
const LANDMARKS = { beforeV: 4, afterV: 0 } as unknown as Landmarks
/** Light proportional to the code: code 255 is 2.55 V. */
const LADDER: Ladder = {
  steps: [0, 51, 102, 153, 204, 255].map((level) => ({ level, meanV: level / 100, sdV: 0, peakToPeakV: 0 })),
  darkV: 0,
  takenAt: '2030-01-01T00:00:00Z',
}

describe('cursors', () => {
  it('read samples and the line between them', () => {
    expect(readAt(line, 1)).toEqual({ ms: 1, volts: 1, halfV: 0 })
    expect(readAt(line, 1.5).volts).toBeCloseTo(2.5, 6)
    expect(readAt(line, 2).volts).toBe(4)
  })

  it('read the middle of wide columns and how much they span', () => {
    const band = { x: Float64Array.of(0, 1), min: Float32Array.of(1, 1), max: Float32Array.of(3, 3) }
    expect(readAt(band, 0.5)).toEqual({ ms: 0.5, volts: 2, halfV: 1 })
  })

  it('are told in volts to the decimals of the spread, both in one unit', () => {
    expect(cursorWords({ ms: 2, volts: 1.23456, halfV: 0.0123 })).toBe('2.00 ms, 1.235 ± 0.012 V')
    expect(cursorWords({ ms: 2, volts: 0.04321, halfV: 0.0004 })).toBe('2.00 ms, 43.2 ± 0.4 mV')
    expect(cursorWords({ ms: 2, volts: 1.23456, halfV: 0 })).toBe('2.00 ms, 1.2346 V')
  })

  it('read nothing outside the record', () => {
    expect(readAt(line, -0.1).volts).toBeNull()
    expect(readAt(line, 2.1).volts).toBeNull()
  })

  it('give Δt, 1/Δt and ΔL in V, percent of the step and codes', () => {
    const a = { ms: 2, volts: 0.51, halfV: 0 }
    const b = { ms: 4.5, volts: 1.53, halfV: 0 }
    const found = cursorDifference(a, b, LANDMARKS, LADDER)
    expect(found.deltaMs).toBe(2.5)
    expect(found.rateHz).toBe(400)
    expect(found.deltaV).toBeCloseTo(1.02, 9)
    expect(found.deltaPct).toBeCloseTo(25.5, 9)
    expect(found.deltaCode).toBeCloseTo(102, 3)
    expect(found.codeReason).toBe('')
    expect(cursorDifference(b, a, LANDMARKS, LADDER)).toMatchObject({ deltaMs: -2.5, rateHz: 400 })
  })

  it('say why there is no number', () => {
    const at = { ms: 1, volts: 1, halfV: 0 }
    const out = { ms: 1, volts: null, halfV: 0 }
    expect(cursorDifference(at, out, null, null)).toEqual({
      deltaMs: 0,
      rateHz: null,
      deltaV: null,
      deltaPct: null,
      deltaCode: null,
      codeReason: 'no ladder',
    })
    const flat: Ladder = { ...LADDER, steps: LADDER.steps.map((step) => ({ ...step, meanV: 1 })) }
    expect(cursorDifference(at, at, LANDMARKS, flat).codeReason).toMatch(/no difference/)
  })
})
