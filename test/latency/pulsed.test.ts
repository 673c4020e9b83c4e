/** Light in pulses, in closed form: the pulses' instants and the moment of the change are known. */
import { describe, expect, it } from 'vitest'
import type { RawTrace } from '#shared/domain/capture.ts'
import { eventLight, type EventLight } from '#shared/latency/event.ts'
import { normalValues, uniformSource } from './closed-form.ts'

const RATE = 20_000
const EVENT_MS = 60
const normal = normalValues(60_000, uniformSource(21))

interface Pulses {
  readonly periodMs: number
  readonly duty: number
  /** Light between pulses, share of the pulse. */
  readonly glow: number
  readonly phaseMs: number
}

/** 4 V of light approaching its level from the moment of the change on, seen through pulses. */
function record(pulses: Pulses, from: number, to: number, changeMs: number, tauMs: number, noiseV = 0.004): RawTrace {
  const { periodMs, duty, glow, phaseMs } = pulses
  const samples = Float32Array.from({ length: RATE * 0.31 }, (_, i) => {
    const ms = (1000 * i) / RATE - EVENT_MS
    const level = ms < changeMs ? from : to + (from - to) * Math.exp(-(ms - changeMs) / tauMs)
    const share = (((ms - phaseMs) % periodMs) + periodMs) % periodMs
    return 0.02 + 4 * level * (share < duty * periodMs ? 1 : glow) + noiseV * (normal[i] ?? 0)
  })
  return { format: 'real32', samples, sampleRateHz: RATE, scaleV: 1, offsetV: 0, rangeV: 5 }
}

const lightOf = (trace: RawTrace): EventLight | string => eventLight(trace, (RATE * EVENT_MS) / 1000)
/** Beginning of the first pulse at or after a moment. */
const nextPulse = ({ periodMs, phaseMs }: Pulses, ms: number): number =>
  phaseMs + Math.ceil((ms - phaseMs) / periodMs) * periodMs

const STROBE = { periodMs: 1000 / 120, duty: 0.1, glow: 0 }
const MODULATED = { periodMs: 1000 / 240, duty: 0.6, glow: 0.2 }

describe('light in pulses', () => {
  it.each([
    ['strobe, up from black', STROBE, 0, 1],
    ['strobe, down to black', STROBE, 1, 0],
    ['strobe, between greys', STROBE, 0.2, 0.7],
    ['modulated, up', MODULATED, 0, 1],
    ['modulated, down', MODULATED, 1, 0],
    ['modulated, between greys', MODULATED, 0.25, 1],
  ])('%s: the first pulse of the new level', (_, kind, from, to) => {
    const uniform = uniformSource(31)
    for (let k = 0; k < 25; k++) {
      const pulses = { ...kind, phaseMs: kind.periodMs * uniform() }
      // The change is over before the next pulse begins: a fast cell, changing between two pulses.
      const pulse = nextPulse(pulses, 20 + 30 * uniform())
      const dark = (1 - kind.duty) * kind.periodMs
      const changeMs = pulse - 0.1 - (0.8 * dark - 0.1) * uniform()
      const light = lightOf(record(pulses, from, to, changeMs, 0.02))
      if (typeof light === 'string') throw new Error(light)
      expect(Math.abs(1000 * light.halfS - pulse), `pulse ${k}`).toBeLessThan(0.06)
      expect(1000 * (light.pulseS ?? 0)).toBeCloseTo(kind.periodMs, 2)
      // The change itself lies within one period before.
      expect(1000 * light.halfS - changeMs).toBeLessThan(kind.periodMs)
      expect(1000 * light.u).toBeLessThan(0.05)
    }
  })

  it('with a slow cell: the pulse whose light is half-way, and earlier ones that left the old level', () => {
    const pulses = { ...STROBE, phaseMs: 1 }
    const [changeMs, tauMs] = [22, 20]
    const light = lightOf(record(pulses, 0, 1, changeMs, tauMs))
    if (typeof light === 'string') throw new Error(light)
    /** Mean light of a pulse that begins at b: 1 − e^(−(t − c)/τ) over its width, in closed form. */
    const done = (b: number): number => {
      const width = STROBE.duty * STROBE.periodMs
      return 1 - (tauMs / width) * (Math.exp(-(b - changeMs) / tauMs) - Math.exp(-(b + width - changeMs) / tauMs))
    }
    const first = (share: number): number => {
      let b = nextPulse(pulses, changeMs)
      while (done(b) < share) b += STROBE.periodMs
      return b
    }
    expect(1000 * light.halfS).toBeCloseTo(first(0.5), 1)
    expect(1000 * light.tenthS).toBeCloseTo(first(0.1), 1)
    expect(1000 * light.onsetS).toBeCloseTo(first(0.02), 1)
    expect(first(0.5)).toBeGreaterThan(first(0.1))
  })

  it('says why not and what to do', () => {
    const pulses = { ...STROBE, phaseMs: 1 }
    const short = record({ ...STROBE, periodMs: 45, phaseMs: 1 }, 1, 0, 30, 0.02)
    expect(lightOf(short)).toMatch(/comes in pulses.*longer before it for a step down/)
    expect(lightOf(record(pulses, 1, 1, 30, 0.02))).toMatch(/No step of the pulses/)
    expect(lightOf(record(pulses, 0, 1, -30, 0.02))).toMatch(/before the event/)
    const fast = lightOf(record({ periodMs: 0.15, duty: 0.5, glow: 0, phaseMs: 0 }, 0.5, 1, 30, 0.02))
    expect(fast).toMatch(/sample rate/)
    const uniform = uniformSource(8)
    const shifts = Array.from({ length: 40 }, () => 8 * uniform())
    const uneven = record(pulses, 0, 1, 30, 0.02)
    uneven.samples.forEach((_, i) => {
      const ms = (1000 * i) / RATE
      const since = (ms % 20) - (shifts[Math.floor(ms / 20)] ?? 0)
      uneven.samples[i] = ms > 90 && since >= 0 && since < 2 ? 4 : 0
    })
    expect(lightOf(uneven)).toMatch(/without a steady period.*Turn the modulation off/)
  })
})
