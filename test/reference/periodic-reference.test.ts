import { describe, expect, it } from 'vitest'
import type { RawTrace } from '#shared/domain/capture.ts'
import { measurePeriodic, type PeriodicId } from '#shared/measure/periodic.ts'
import { hasScipy, runReference, voltsOf } from './tools.ts'
import { gaussian } from './waves.ts'

function record(rate: number, seconds: number, light: (t: number) => number, noise: number): RawTrace {
  const next = gaussian(7)
  const samples = Float32Array.from({ length: Math.round(rate * seconds) }, (_, i) => light(i / rate) + noise * next())
  return { format: 'real32', samples, sampleRateHz: rate, scaleV: 1, offsetV: 0, rangeV: 10 }
}

/** Smooth pulse-width modulation: a square seen through a detector. */
const pwm = (f: number, duty: number, steep: number) => (t: number) =>
  0.2 + 1 / (1 + Math.exp(-steep * (Math.cos(2 * Math.PI * f * t) - Math.cos(Math.PI * duty))))

const CASES: { name: string; trace: RawTrace; pst?: boolean }[] = [
  { name: 'sine 120 Hz, 30 %', trace: record(20_000, 1, (t) => 1 + 0.3 * Math.sin(2 * Math.PI * 120 * t), 0) },
  { name: 'sine 143.7 Hz, 5 %, noise 1 %', trace: record(50_000, 1, (t) => 1 + 0.05 * Math.sin(902.9 * t), 0.01) },
  { name: 'PWM 240 Hz, duty 0.3', trace: record(50_000, 0.5, pwm(240, 0.3, 20), 0) },
  { name: 'PWM 365.2 Hz, duty 0.6, noise 0.5 %', trace: record(100_000, 0.5, pwm(365.2, 0.6, 20), 0.005) },
  { name: 'PWM 97.3 Hz, duty 0.15', trace: record(48_000, 2, pwm(97.3, 0.15, 40), 0) },
  {
    name: 'sine 8.8 Hz, 1 %, 65 s',
    trace: record(4000, 65, (t) => 1 + 0.01 * Math.sin(2 * Math.PI * 8.8 * t), 0.001),
    pst: true,
  },
]

/** Reading, name in the reference, relative tolerance. */
const READINGS: [PeriodicId, string, number][] = [
  ['fundamental_hz', 'fundamental', 1e-5],
  ['percent_flicker_pct', 'percentFlicker', 0.005],
  ['flicker_index', 'flickerIndex', 0.003],
  ['rms_pct', 'rms', 0.003],
  ['svm', 'svm', 0.003],
  ['visibility_jnd', 'jnd', 0.003],
  ['pst_lm', 'pst', 0.002],
]

describe.runIf(hasScipy())('periodic light against numpy and scipy', { timeout: 120_000 }, () => {
  it('agrees on every reading of every record', () => {
    const jobs = CASES.map(({ trace, pst }) => ({
      job: { kind: 'periodic' as const, rate: trace.sampleRateHz, pst: pst === true },
      values: voltsOf(trace),
    }))
    const reference = runReference(jobs)
    const lines: string[] = []
    CASES.forEach(({ name, trace }, i) => {
      const ours = measurePeriodic(trace, { darkV: 0 }).values
      for (const [id, key, tolerance] of READINGS) {
        const theirs = reference[i]?.[key]
        if (typeof theirs !== 'number') continue
        const value = ours[id] ?? Number.NaN
        lines.push(`${name}: ${id} ${value.toPrecision(7)} | scipy ${theirs.toPrecision(7)}`)
        expect(Math.abs(value / theirs - 1), lines.at(-1)).toBeLessThan(tolerance)
      }
    })
    console.log(lines.join('\n'))
    expect(lines.length).toBeGreaterThan(30)
  })
})
