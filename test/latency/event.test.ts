/** The light of single events, and what many of them say, against closed forms. */
import { describe, expect, it } from 'vitest'
import { delayDistribution, meanDifference } from '#shared/latency/distribution.ts'
import { eventLight, type EventLight } from '#shared/latency/event.ts'
import { presentationOf } from '#shared/latency/heights.ts'
import { drawEvent, eventRecord, normalValues, uniformSource } from './closed-form.ts'

const OPTIONS = {
  sampleRateHz: 20_000,
  beforeS: 0.02,
  afterS: 0.12,
  noiseV: 0.004,
  normal: normalValues(50_000, uniformSource(77)),
}

describe('the light of one event', () => {
  it.each([
    [12.3456, 2],
    [31, 0.4],
    [7.77, 8],
  ])('after %d ms, with a time constant of %d ms', (onsetMs, tauMs) => {
    const uniform = uniformSource(3)
    const found = Array.from({ length: 50 }, () => {
      const { trace, triggerIndex } = eventRecord({ onsetMs }, tauMs, OPTIONS, uniform)
      return eventLight(trace, triggerIndex)
    }).filter((light): light is EventLight => typeof light !== 'string')
    expect(found).toHaveLength(50)
    const mean = (pick: (light: EventLight) => number): number =>
      (1000 * found.reduce((sum, light) => sum + pick(light), 0)) / found.length
    // Half and a tenth of 1 − e^(−t/τ): ln 2 and ln(10/9) time constants. The edge's place between samples averages out.
    expect(Math.abs(mean(({ halfS }) => halfS) - (onsetMs + Math.LN2 * tauMs))).toBeLessThan(0.02)
    expect(Math.abs(mean(({ tenthS }) => tenthS) - (onsetMs + Math.log(10 / 9) * tauMs))).toBeLessThan(0.02)
    // Leaving three standard deviations of the noise: 12 mV of 4 V, and no earlier than a sample before the light.
    const onset = mean(({ onsetS }) => onsetS) - onsetMs
    expect(onset).toBeGreaterThan(-0.05)
    expect(onset).toBeLessThan(0.05 + 2 * -Math.log(1 - 0.012 / 4) * tauMs)
    // Its stated uncertainty describes the scatter.
    const errors = found.map(({ halfS }) => 1000 * halfS - onsetMs - Math.LN2 * tauMs)
    const scatter = Math.sqrt(errors.reduce((sum, error) => sum + error ** 2, 0) / errors.length)
    const stated = 1000 * Math.sqrt(found.reduce((sum, { u }) => sum + u ** 2, 0) / found.length)
    expect(scatter / stated).toBeGreaterThan(0.7)
    expect(scatter / stated).toBeLessThan(1.4)
  })

  it('is not made up where none follows, and where it came before the event', () => {
    const uniform = uniformSource(5)
    const dark = eventRecord({ onsetMs: 1e6 }, 1, OPTIONS, uniform)
    expect(eventLight(dark.trace, dark.triggerIndex)).toMatch(/No light step/)
    const early = eventRecord({ onsetMs: -5 }, 0.5, OPTIONS, uniform)
    expect(eventLight(early.trace, early.triggerIndex)).toMatch(/before the event/)
  })

  it('falls as well as rises', () => {
    const { trace, triggerIndex } = eventRecord({ onsetMs: 15 }, 3, OPTIONS, uniformSource(8))
    const samples = trace.samples.map((v) => 4.1 - v) as Float32Array
    const light = eventLight({ ...trace, samples }, triggerIndex)
    expect(typeof light === 'string' ? light : Math.abs(1000 * light.halfS - 15 - 3 * Math.LN2) < 0.06).toBe(true)
  })
})

describe('the spread of many events', () => {
  const waits = (n: number, step: (k: number) => number): number[] =>
    Array.from({ length: n }, (_, k) => 20 + (1000 / 60) * (1 - (step(k) % 1)))

  it('is known as the wait for one frame, as narrower when events keep step, as wider with a poll of 8 ms', () => {
    const frame = 1000 / 60
    const uniform = uniformSource(1)
    expect(
      delayDistribution(
        waits(400, () => uniform()),
        frame,
      )?.shape,
    ).toMatchObject({ verdict: 'one-frame', late: 0 })
    // An event every 500 ms is exactly 30 frames of 60 Hz: the wait never changes.
    expect(
      delayDistribution(
        waits(100, (k) => 0.5 * 60 * k + 0.2),
        frame,
      )?.shape.verdict,
    ).toBe('narrower')
    const polled = waits(1000, () => uniform()).map((delay) => delay + 8 * uniform())
    expect(delayDistribution(polled, frame)?.shape.verdict).toBe('wider')
  })

  it('counts events that waited for queued frames', () => {
    const uniform = uniformSource(2)
    const delays = waits(300, () => uniform()).map((delay, k) => (k % 100 === 0 ? delay + (2 * 1000) / 60 : delay))
    expect(delayDistribution(delays, 1000 / 60)?.shape.late).toBe(3)
  })

  it('has the trapezoid’s percentiles with a poll of 8 ms at 60 Hz', () => {
    const model = { refreshHz: 60, hostMs: 0, pollMs: 8, signalDelayMs: 0, tauMs: 0 }
    const uniform = uniformSource(4)
    const delays = Array.from({ length: 5000 }, () => drawEvent(model, uniform).halfMs)
    const found = delayDistribution(delays, 1000 / 60)
    // (P + T)/2, √((P² + T²)/12), √(0.1·P·T), P + T − that; bounds of four standard errors of 5,000 events.
    const at = (q: number): number => found?.percentiles.find((one) => one.q === q)?.value ?? Number.NaN
    expect(Math.abs((found?.mean ?? 0) - 12.3333)).toBeLessThan(0.3)
    expect(Math.abs((found?.sd ?? 0) - 5.3368)).toBeLessThan(0.18)
    expect(Math.abs(at(0.05) - 3.65148)).toBeLessThan(0.5)
    expect(Math.abs(at(0.95) - 21.01518)).toBeLessThan(0.5)
  })

  it('gives a difference of two runs the uncertainty of both waits', () => {
    const uniform = uniformSource(6)
    const run = (): NonNullable<ReturnType<typeof delayDistribution>> => {
      const found = delayDistribution(
        waits(100, () => uniform()),
        1000 / 60,
      )
      if (found === null) throw new Error('no distribution')
      return found
    }
    const all = Array.from({ length: 60 }, () => meanDifference(run(), run()))
    // t · T·√(1/12)·√(2/100) = 1.334 ms at 60 Hz.
    expect(all.reduce((sum, { u95 }) => sum + u95, 0) / all.length).toBeCloseTo(1.334, 1)
    expect(all.filter(({ value, u95 }) => Math.abs(value) > u95).length).toBeLessThan(9)
  })
})

describe('presentation by height', () => {
  const uniform = uniformSource(9)
  const frame = 1000 / 60
  const runs = (scanMs: number, n: number) =>
    [0.05, 0.5, 0.95].map((row) => {
      const delays = delayDistribution(
        Array.from({ length: n }, () => 8 + scanMs * row + frame * uniform()),
        frame,
      )
      if (delays === null) throw new Error('no distribution')
      return { row, delays }
    })

  it('is synchronised where the light comes 0.95 frames later at the bottom', () => {
    const found = presentationOf(runs(0.95 * frame, 200), frame)
    expect(found?.verdict).toBe('synchronised')
    expect(Math.abs((found?.slope ?? 0) - 15.83)).toBeLessThan(1.5 * (found?.u95 ?? 0))
  })
  it('tears where all heights are alike, and cannot be told from a few events or one height', () => {
    expect(presentationOf(runs(0, 200), frame)?.verdict).toBe('tearing')
    expect(presentationOf(runs(0.5 * frame, 10), frame)?.verdict).toBe('cannot-tell')
    expect(presentationOf(runs(0, 50).slice(1, 2), frame)).toBeNull()
  })
})
