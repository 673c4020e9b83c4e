/** The second channel of a record, made here sample by sample: the edge's place is known. */
import { describe, expect, it } from 'vitest'
import type { RawTrace } from '#shared/domain/capture.ts'
import { eventEdge } from '#shared/latency/event-edge.ts'
import { eventLight } from '#shared/latency/event.ts'
import { eventRecord, normalValues, uniformSource } from './closed-form.ts'

const RATE = 20_000
const normal = normalValues(20_000, uniformSource(12))

/** Volts of samples at t ms. */
const channel = (voltsAt: (ms: number) => number, noiseV = 0.002, samples = 2800): RawTrace => ({
  format: 'real32',
  samples: Float32Array.from({ length: samples }, (_, i) => voltsAt((1000 * i) / RATE) + noiseV * (normal[i] ?? 0)),
  sampleRateHz: RATE,
  scaleV: 1,
  offsetV: 0,
  rangeV: 5,
})
const found = (trace: RawTrace): Exclude<ReturnType<typeof eventEdge>, string> => {
  const edge = eventEdge(trace)
  if (typeof edge === 'string') throw new Error(edge)
  return edge
}

describe('the edge of an event', () => {
  it('lies between the samples it falls between, pulled up or down', () => {
    for (const at of [31.01, 31.024, 31.049]) {
      const [up, down] = [(ms: number) => (ms >= at ? 3.3 : 0), (ms: number) => (ms >= at ? 0 : 5)].map((v) =>
        found(channel(v)),
      )
      // Samples 620 and 621 are at 31.00 and 31.05 ms.
      expect(up?.at).toBeCloseTo(620.5, 1)
      expect(down?.at).toBeCloseTo(620.5, 1)
    }
  })

  it('of a filtered contact is where it is half-way: ln 2 time constants after it closed', () => {
    const { at } = found(channel((ms) => (ms < 40 ? 0 : 3.3 * (1 - Math.exp(-(ms - 40) / 2)))))
    expect(Math.abs((1000 * at) / RATE - 40 - 2 * Math.LN2)).toBeLessThan(0.01)
  })

  it('is the first of a contact that bounces; a release is none, a second press is told', () => {
    const bouncing = (ms: number): number =>
      (ms >= 30 && ms < 31) || (ms >= 31.5 && ms < 32) || (ms >= 33 && ms < 90) ? 3.3 : 0
    expect(found(channel(bouncing))).toMatchObject({ at: expect.closeTo(599.5, 1) as number, bounces: 2, next: null })
    const twice = found(channel((ms) => ((ms >= 30 && ms < 60) || ms >= 100 ? 3.3 : 0)))
    expect(twice).toMatchObject({ bounces: 0, next: expect.closeTo(1999.5, 1) as number })
  })

  it('is not made up', () => {
    expect(eventEdge(channel(() => 0.1))).toMatch(/shows no edge/)
    expect(eventEdge(channel((ms) => (ms < 50 ? 3.3 : 3.3)))).toMatch(/shows no edge/)
    // Pressed since before the record, then released: that is no event.
    const held = eventEdge(channel((ms) => (ms < 0.1 ? 0 : ms < 60 ? 3.3 : 0)))
    expect(held).toMatch(/had begun before the record/)
    const quiet = channel(() => 0)
    const codes = {
      ...quiet,
      format: 'int16' as const,
      samples: Int16Array.from(quiet.samples, (v) => Math.round(v * 1000)),
      scaleV: 5 / 32_768,
    }
    expect(eventEdge(codes)).toMatch(/shows no edge/)
  })
})

describe('light after the edge of the second channel', () => {
  const options = { sampleRateHz: RATE, beforeS: 0.02, afterS: 0.12, noiseV: 0.004, normal }
  // The record was started 20 ms in; light begins 45 ms after that.
  const { trace, triggerIndex } = eventRecord({ onsetMs: 45 }, 2, options, uniformSource(1))
  const pressedAt = (ms: number): RawTrace => channel((t) => (t >= ms && t < ms + 60 ? 3.3 : 0))
  const halfMs = (second: RawTrace): number | string => {
    const light = eventLight(trace, triggerIndex, second)
    return typeof light === 'string' ? light : 1000 * light.halfS
  }

  it('counts from that edge, wherever the record was started', () => {
    for (const ms of [8.03, 20, 37.77])
      expect(Math.abs(Number(halfMs(pressedAt(ms))) - (20 + 45 + 2 * Math.LN2 - ms))).toBeLessThan(0.06)
  })

  it('says why not where the event came after the light, or twice before it', () => {
    expect(halfMs(pressedAt(80))).toMatch(/changed before the event/)
    expect(halfMs(channel(() => 0))).toMatch(/shows no edge/)
    expect(halfMs(channel((t) => ((t >= 10 && t < 20) || t >= 40 ? 3.3 : 0)))).toMatch(
      /second event came before the light/,
    )
    // A second press after the light changes nothing.
    expect(typeof halfMs(channel((t) => ((t >= 10 && t < 20) || t >= 100 ? 3.3 : 0)))).toBe('number')
  })
})
