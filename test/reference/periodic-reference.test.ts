import { describe, expect, it } from 'vitest'
import type { RawTrace } from '#shared/domain/capture.ts'
import { measurePeriodic, type PeriodicId } from '#shared/measure/periodic.ts'
import { hasScipy, runReference, voltsOf } from './tools.ts'
import { gaussian } from './waves.ts'

interface Case {
  readonly name: string
  readonly trace: RawTrace
  /** The same light without noise, where the record has any. */
  readonly quiet: RawTrace | null
  readonly pst?: boolean
}

function record(rate: number, seconds: number, light: (t: number) => number, noise: number): RawTrace {
  const next = gaussian(7)
  const samples = Float32Array.from({ length: Math.round(rate * seconds) }, (_, i) => light(i / rate) + noise * next())
  return { format: 'real32', samples, sampleRateHz: rate, scaleV: 1, offsetV: 0, rangeV: 10 }
}

function caseOf(
  name: string,
  rate: number,
  seconds: number,
  light: (t: number) => number,
  noise: number,
  pst = false,
): Case {
  const quiet = noise > 0 ? record(rate, seconds, light, 0) : null
  return { name, trace: record(rate, seconds, light, noise), quiet, pst }
}

/** Smooth pulse-width modulation: a square seen through a detector. */
const pwm = (f: number, duty: number, steep: number) => (t: number) =>
  0.2 + 1 / (1 + Math.exp(-steep * (Math.cos(2 * Math.PI * f * t) - Math.cos(Math.PI * duty))))

const CASES: readonly Case[] = [
  caseOf('sine 120 Hz, 30 %', 20_000, 1, (t) => 1 + 0.3 * Math.sin(2 * Math.PI * 120 * t), 0),
  caseOf('sine 143.7 Hz, 5 %, noise 1 %', 50_000, 1, (t) => 1 + 0.05 * Math.sin(902.9 * t), 0.01),
  caseOf('PWM 240 Hz, duty 0.3', 50_000, 0.5, pwm(240, 0.3, 20), 0),
  caseOf('PWM 365.2 Hz, duty 0.6, noise 0.5 %', 100_000, 0.5, pwm(365.2, 0.6, 20), 0.005),
  caseOf('PWM 97.3 Hz, duty 0.15', 48_000, 2, pwm(97.3, 0.15, 40), 0),
  caseOf('sine 8.8 Hz, 1 %, 65 s', 4000, 65, (t) => 1 + 0.01 * Math.sin(2 * Math.PI * 8.8 * t), 0.001, true),
]

/** Reading, name in the reference, relative tolerance. */
const READINGS: readonly [PeriodicId, string, number][] = [
  ['fundamental_hz', 'fundamental', 1e-5],
  ['percent_flicker_pct', 'percentFlicker', 0.005],
  ['flicker_index', 'flickerIndex', 0.003],
  ['rms_pct', 'rms', 0.003],
  ['svm', 'svm', 0.003],
  ['visibility_jnd', 'jnd', 0.003],
  ['pst_lm', 'pst', 0.002],
]

/** Readings that the reference takes from the largest and smallest of noisy values, which noise pushes apart. */
const BIASED: ReadonlySet<PeriodicId> = new Set(['percent_flicker_pct', 'flicker_index', 'rms_pct'])

describe.runIf(hasScipy())('periodic light against numpy and scipy', () => {
  it('agrees on every reading of every record', () => {
    const jobOf = (trace: RawTrace, pst: boolean) => ({
      job: { kind: 'periodic' as const, rate: trace.sampleRateHz, pst },
      values: voltsOf(trace),
    })
    const noisy = CASES.flatMap(({ quiet }, i) => (quiet === null ? [] : [{ quiet, i }]))
    const answers = runReference([
      ...CASES.map(({ trace, pst }) => jobOf(trace, pst === true)),
      ...noisy.map(({ quiet }) => jobOf(quiet, false)),
    ])
    const lines: string[] = []
    let held = 0
    CASES.forEach(({ name, trace, quiet }, i) => {
      const { values, uncertainties } = measurePeriodic(trace, { darkV: 0 })
      const still = quiet === null ? undefined : answers[CASES.length + noisy.findIndex((one) => one.i === i)]
      for (const [id, key, tolerance] of READINGS) {
        const value = values[id] ?? Number.NaN
        const unbiased = still !== undefined && BIASED.has(id)
        const theirs = unbiased ? still[key] : answers[i]?.[key]
        if (typeof theirs !== 'number') continue
        const u = uncertainties[id] ?? 0
        lines.push(
          `${name}: ${id} ${value.toPrecision(7)} ± ${u.toPrecision(2)} | scipy ${theirs.toPrecision(7)}` +
            (unbiased ? ' without the noise' : ''),
        )
        // Of a noisy record the light itself, within the uncertainty that is stated for it.
        if (unbiased) {
          expect(u, lines.at(-1)).toBeGreaterThan(0)
          expect(Math.abs(value - theirs), lines.at(-1)).toBeLessThan(2 * u)
          held++
        } else expect(Math.abs(value / theirs - 1), lines.at(-1)).toBeLessThan(tolerance)
      }
    })
    expect(held).toBe(9)
    console.log(lines.join('\n'))
    expect(lines.length).toBeGreaterThan(30)
  })
})
