/** Recordings that are not what they seem: unequal steps, flat rails, times without a unit. Truths in closed form. */
import { describe, expect, it } from 'vitest'
import { guessMapping } from '#shared/import/guess.ts'
import { previewRecording } from '#shared/import/preview.ts'
import { parseRecording, type ParsedRecording } from '#shared/import/recording.ts'
import { measureCapture } from '#shared/measure/measure-capture.ts'
import { gaussian } from '../reference/waves.ts'
import { inputOf } from '../reference/waves.ts'

const TAU = 2e-3
const light = (t: number): number => (t <= 0 ? 0.5 : 0.5 + 3 * (1 - Math.exp(-t / TAU)))
const csv = (times: readonly number[], volts: readonly number[], header = 'Time (s),Voltage (V)', scale = 1): string =>
  `${header}\n${times.map((t, i) => `${(t * scale).toPrecision(9)},${volts[i]!.toPrecision(7)}`).join('\n')}\n`
const read = (text: string): ParsedRecording => parseRecording(text, guessMapping(text).mapping)
const durationOf = ({ trace, triggerIndex }: ParsedRecording) => {
  const { values, uncertainties, flags } = measureCapture({ ...inputOf({ trace, triggerIndex }), trace, triggerIndex })
  return { value: values.transition_duration_s ?? NaN, u: uncertainties.transition_duration_s ?? 0, flags }
}
const TRUTH = 2.197225 * TAU

/** Instants from −20 ms to 80 ms at steps that `stepAt` gives as a share of 50 µs. */
function instants(stepAt: (t: number) => number): number[] {
  const times: number[] = []
  for (let t = -0.02; t < 0.08; t += 5e-5 * stepAt(t)) times.push(t)
  return times
}

describe('unequal time steps', () => {
  it.each([
    ['drifting by 30 %', (t: number) => 0.85 + 3 * (t + 0.02)],
    ['alternating by 25 %', (t: number) => (Math.floor(t * 1e4) % 2 === 0 ? 0.875 : 1.125)],
  ] as const)('%s are interpolated by their times, with the longest step as the sampling', (_, stepAt) => {
    const times = instants(stepAt)
    const recording = read(csv(times, times.map(light)))
    expect(recording.warnings.join(' ')).toMatch(/time steps vary by up to \d+ %: the samples are interpolated/)
    const { value, u } = durationOf(recording)
    expect(Math.abs(value - TRUTH)).toBeLessThan(2 * u)
    expect(Math.abs(value / TRUTH - 1)).toBeLessThan(2e-3)
    const longest = times.reduce((most, t, i) => (i === 0 ? most : Math.max(most, t - times[i - 1]!)), 0)
    expect(1 / recording.trace.sampleRateHz).toBeCloseTo(longest, 8)
  })

  it('that double half way are refused, not averaged', () => {
    const times = instants((t) => (t < 0 ? 1 : 1.6))
    expect(() => read(csv(times, times.map(light)))).toThrow(/samples must be equally spaced|not equal/)
  })

  it('within the rounding of the written digits are equal', () => {
    const times = Array.from({ length: 2000 }, (_, i) => Math.round((i * 5e-5 - 0.02) * 1e6) / 1e6)
    const recording = read(csv(times, times.map(light)))
    expect(recording.warnings).toEqual([])
    expect(recording.trace.sampleRateHz).toBe(20_000)
  })
})

describe('a flat rail', () => {
  const times = Array.from({ length: 2000 }, (_, i) => i * 5e-5 - 0.02)
  const noisy = (seed: number, noise = 0.002): number[] => {
    const next = gaussian(seed)
    return times.map((t) => light(t) + noise * next())
  }
  it('is seen and flagged as clipped', () => {
    const recording = read(
      csv(
        times,
        noisy(3).map((v) => Math.min(3.3, v)),
      ),
    )
    expect(recording.warnings.join(' ')).toMatch(/samples in a row are exactly 3\.3 V, the highest/)
    expect(durationOf(recording).flags.map(({ id }) => id)).toContain('clipped')
  })
  it('at the bottom is told', () => {
    const recording = read(
      csv(
        times,
        noisy(4).map((v) => Math.max(0.51, v)),
      ),
    )
    expect(recording.warnings.join(' ')).toMatch(/exactly 0\.51 V, the lowest/)
  })
  it('is not invented: clean traces, converters of eight bits and quiet plateaus', () => {
    for (const volts of [
      times.map(light),
      noisy(5),
      ...[1, 0.5, 0.3, 0.1].map((lsbs) => noisy(6, lsbs * 0.02).map((v) => Math.round(v / 0.02) * 0.02)),
    ])
      expect(read(csv(times, volts)).warnings.join(' ')).not.toMatch(/in a row/)
  })
})

describe('a time column without a unit', () => {
  const times = Array.from({ length: 2000 }, (_, i) => i * 5e-5 - 0.02)
  const volts = times.map(light)
  it('is taken as seconds where that makes sense', () => {
    const text = csv(times, volts, 'Time,Voltage')
    expect(guessMapping(text).mapping.timeScaleS).toBe(1)
    expect(guessMapping(text).warnings.join(' ')).toMatch(/seconds are assumed/)
  })
  it.each([1e3, 1e6])('is asked for where it makes none: steps of %f × 50 µs', async (scale) => {
    const text = csv(times, volts, 'Time,Voltage', scale)
    expect(guessMapping(text).mapping.timeScaleS).toBeNull()
    expect(() => read(text)).toThrow(/names no unit, and as seconds it makes no sense/)
    const preview = await previewRecording('0-255.csv', text, null)
    expect(preview.problem?.remedy).toMatch(/--time-unit/)
    expect(preview.columns.length).toBe(2)
    const given = { ...guessMapping(text).mapping, timeScaleS: 1 / scale }
    expect(parseRecording(text, given).trace.sampleRateHz).toBeCloseTo(20_000, 3)
  })
})
