import { describe, expect, it } from 'vitest'
import type { RawTrace } from '#shared/domain/capture.ts'
import { measureLight } from '#shared/measure/light.ts'

const RATE = 20_000

/** One second of light as 16-bit codes of 1 mV, 0.5 V above 0 V when dark. */
function record(light: (t: number) => number): RawTrace {
  const samples = Int16Array.from({ length: RATE }, (_, i) => Math.round(1000 * light(i / RATE)))
  return { format: 'int16', samples, sampleRateHz: RATE, scaleV: 1e-3, offsetV: 0.5, rangeV: 10 }
}
const sine = record((t) => 2 + 0.6 * Math.sin(2 * Math.PI * 250 * t))

describe('periodic light for a screen', () => {
  it('hands on one period that begins at its least, in shares of its mean', () => {
    // 80 samples a period; light 2 ± 0.6 V: 0.7 to 1.3 of the mean, symmetric about its most.
    const { waveform, values } = measureLight({ trace: sine, first: 0, end: RATE, darkV: 0.5 })
    expect(values.fundamental_hz).toBeCloseTo(250, 3)
    expect(values.percent_flicker_pct).toBeCloseTo(30, 1)
    expect(waveform).toHaveLength(80)
    expect(waveform?.[0]).toBeCloseTo(0.7, 3)
    expect(waveform?.[40]).toBeCloseTo(1.3, 3)
    expect(waveform?.[20]).toBeCloseTo(waveform?.[60] ?? NaN, 3)
    expect((waveform ?? new Float32Array(0)).reduce((sum, value) => sum + value / 80, 0)).toBeCloseTo(1, 5)
  })

  it('takes the dark level given into account', () => {
    // Without it the offset counts as light: 0.6 / 2.5 = 24 %.
    const { values } = measureLight({ trace: sine, first: 0, end: RATE, darkV: null })
    expect(values.percent_flicker_pct).toBeCloseTo(24, 1)
  })

  it('hands on a spectrum no longer than a screen is wide, with its lines at their height', () => {
    const { spectrum } = measureLight({ trace: sine, first: 0, end: RATE, darkV: 0.5 })
    const column = Math.floor(250 / (spectrum?.stepHz ?? 1))
    expect(spectrum?.relative.length).toBeLessThanOrEqual(4096)
    expect((spectrum?.relative.length ?? 0) * (spectrum?.stepHz ?? 0)).toBeGreaterThan(3990)
    expect(spectrum?.relative[column]).toBeCloseTo(0.3, 2)
    expect(spectrum?.relative[3 * column] ?? 1).toBeLessThan(0.001)
  })

  it('measures only the span it is given', () => {
    const half = record((t) => (t < 0.5 ? 1 : 2 + 0.6 * Math.sin(2 * Math.PI * 250 * t)))
    const span = measureLight({ trace: half, first: RATE / 2, end: RATE, darkV: 0.5 })
    expect(span.values.percent_flicker_pct).toBeCloseTo(30, 1)
    expect(measureLight({ trace: half, first: 0, end: RATE / 2, darkV: 0.5 }).waveform).toBeNull()
  })

  it('has no waveform where too few samples show one, and refuses a span beyond the record', () => {
    const fast = record((t) => 2 + 0.6 * Math.sin(2 * Math.PI * 1999 * t))
    expect(measureLight({ trace: fast, first: 0, end: RATE, darkV: 0.5 }).waveform).toBeNull()
    expect(() => measureLight({ trace: sine, first: 0, end: RATE + 1, darkV: 0 })).toThrow(RangeError)
  })
})
