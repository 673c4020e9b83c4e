import { fc } from '../support/fast-check.ts'
import { describe, expect, it } from 'vitest'
import type { RawTrace } from '../../src-shared/domain/capture.ts'
import { envelopeOf } from '../../src-shared/signal/envelope.ts'

function traceOf(samples: Int16Array | Float32Array, change: Partial<RawTrace> = {}): RawTrace {
  return {
    format: samples instanceof Int16Array ? 'int16' : 'real32',
    samples,
    sampleRateHz: 1000,
    scaleV: 1,
    offsetV: 0,
    rangeV: 5,
    ...change,
  }
}
const codes = fc.int16Array({ minLength: 1, maxLength: 3000 })

describe('envelope', () => {
  it('misses no sample and counts none twice', () => {
    const span = fc.tuple(fc.double({ min: -1, max: 4, noNaN: true }), fc.double({ min: -1, max: 4, noNaN: true }))
    fc.assert(
      fc.property(codes, span, fc.integer({ min: 1, max: 400 }), (samples, [a, b], columns) => {
        const trace = traceOf(samples, { scaleV: -0.5, offsetV: 2 })
        const [from, to] = [Math.min(a, b), Math.max(a, b)]
        const plain = envelopeOf(trace, from, to, columns)
        const first = Math.max(0, Math.floor(from * 1000 + 1e-6))
        const last = Math.min(samples.length - 1, Math.ceil(to * 1000 - 1e-6))
        const inside = samples.slice(first, Math.max(first, last + 1))
        expect(plain.min).toHaveLength(Math.min(columns, inside.length))
        if (inside.length === 0) return
        const n = plain.min.length
        for (let k = 0; k < n; k++) {
          const part = inside.slice(Math.floor((k * inside.length) / n), Math.floor(((k + 1) * inside.length) / n))
          expect(part.length).toBeGreaterThan(0)
          // The scale is negative: the greatest code is the least voltage.
          expect(plain.min[k]).toBe(Math.max(...part) * -0.5 + 2)
          expect(plain.max[k]).toBe(Math.min(...part) * -0.5 + 2)
        }
        expect(plain.startS).toBeCloseTo(first / 1000, 12)
        expect(plain.stepS * n).toBeCloseTo(inside.length / 1000, 9)
      }),
      { numRuns: 200 },
    )
  })

  it('is the samples themselves when they fit', () => {
    const samples = Float32Array.of(0.5, -1, 2, 0.25)
    expect(envelopeOf(traceOf(samples), 0, 1, 100)).toEqual({ startS: 0, stepS: 0.001, min: samples, max: samples })
    const part = envelopeOf(traceOf(samples), 0.001, 0.002, 100)
    expect(part).toEqual({ startS: 0.001, stepS: 0.001, min: samples.slice(1, 3), max: samples.slice(1, 3) })
  })

  it('keeps a spike of one sample at any zoom', () => {
    const samples = new Int16Array(1_000_000)
    samples[777_777] = 12_345
    const trace = traceOf(samples, { sampleRateHz: 1_000_000 })
    for (const columns of [1, 7, 640, 8192]) {
      const { max, stepS } = envelopeOf(trace, 0, 1, columns)
      expect(max.filter((value) => value === 12_345)).toHaveLength(1)
      expect(Math.abs(max.indexOf(12_345) * stepS - 0.777_777)).toBeLessThanOrEqual(stepS)
    }
  })

  it('is empty outside the record and needs a column', () => {
    const trace = traceOf(Int16Array.of(1, 2, 3))
    expect(envelopeOf(trace, 5, 6, 10).min).toHaveLength(0)
    expect(envelopeOf(trace, -2, -1, 10).min).toHaveLength(0)
    expect(envelopeOf(traceOf(new Int16Array(0)), 0, 1, 10).min).toHaveLength(0)
    expect(() => envelopeOf(trace, 0, 1, 0)).toThrow(RangeError)
    expect(() => envelopeOf(trace, 0, 1, Number.NaN)).toThrow(RangeError)
  })
})
