/** Repeats laid over one another, and spectra of chosen spans. */
import { describe, expect, it } from 'vitest'
import { overlayOn, type AlignedTrace } from '#shared/measure/overlay.ts'
import { spanSpectrum } from '#shared/measure/span-spectrum.ts'
import { firstOrder, gaussian, traceOf } from './waves.ts'

const RATE = 10_000
/** A wave whose 50 % crossing is at `mid`, s. */
const aligned = (
  wave: (t: number) => number,
  { mid = 0.05, rate = RATE, length = 0.2 }: { mid?: number; rate?: number; length?: number } = {},
): AlignedTrace => ({
  volts: Float64Array.from({ length: Math.round(length * rate) }, (_, k) => wave(k / rate - mid)),
  sampleRateHz: rate,
  crossMidS: mid,
})
const ramp = (t: number): number => Math.min(1, Math.max(0, 0.5 + t / 0.02))

describe('overlay', () => {
  it('aligns at the crossing, also between samples and at another sample rate', () => {
    const builder = overlayOn(aligned(ramp), 0, 0.2, 8192)
    for (const other of [
      aligned(ramp, { mid: 0.0712345 }),
      aligned(ramp, { mid: 0.03001, rate: 23_456, length: 0.25 }),
    ]) {
      const { shiftS, envelope } = builder.add(other, true)
      expect(shiftS).toBeCloseTo(0.05 - other.crossMidS, 12)
      // Every column lies on the line of the asked trace.
      for (let k = 0; k < envelope.min.length; k++) {
        const t = envelope.startS + k * envelope.stepS
        expect(Math.abs((envelope.min[k] ?? NaN) - ramp(t - 0.05))).toBeLessThan(1e-5)
      }
    }
    const finished = builder.finish()
    const residual = [...(finished?.residual.min ?? []), ...(finished?.residual.max ?? [])]
    expect(residual.length).toBeGreaterThan(2000)
    // A line between samples misses the corners of the ramp by less than a quarter of what a sample gains.
    expect(Math.max(...residual.map(Math.abs))).toBeLessThan((0.25 * 50) / RATE)
  })

  it('takes the mean of those that count only, and the residual to it', () => {
    const builder = overlayOn(
      aligned((t) => ramp(t) + 0.3),
      0,
      0.2,
      64,
    )
    builder.add(
      aligned((t) => ramp(t) + 0.1),
      true,
    )
    builder.add(
      aligned((t) => ramp(t) - 0.1),
      true,
    )
    builder.add(
      aligned((t) => ramp(t) + 50),
      false,
    )
    const finished = builder.finish()
    expect(finished?.whole).toBe(true)
    expect(finished?.mean).toMatchObject({ startS: builder.own.startS, stepS: builder.own.stepS })
    expect(finished?.residual.min).toHaveLength(64)
    for (const value of [...(finished?.residual.min ?? []), ...(finished?.residual.max ?? [])])
      expect(value).toBeCloseTo(0.3, 5)
    expect(finished?.mean.max.at(-1)).toBeCloseTo(1, 6)
    expect(finished?.mean.min[0]).toBeCloseTo(0, 6)
  })

  it('reaches as far as every counted trace does, on whole columns of the asked one', () => {
    const builder = overlayOn(aligned(ramp), 0, 0.2, 100)
    builder.add(aligned(ramp, { mid: 0.03, length: 0.1 }), true)
    builder.add(aligned(ramp, { length: 0.01, mid: 0.005 }), false)
    const finished = builder.finish()
    // The shorter trace covers 0.02 … 0.12 s of the asked one: columns 10 … 59 of 2 ms.
    expect(finished?.whole).toBe(false)
    expect(finished?.mean.startS).toBeCloseTo(0.02, 9)
    expect(finished?.mean.min).toHaveLength(50)
    expect(finished?.residual.startS).toBe(finished?.mean.startS)
  })

  it('has no mean without a trace that counts, or without an instant that all reach', () => {
    const alone = overlayOn(aligned(ramp), 0, 0.2, 100)
    alone.add(aligned(ramp), false)
    expect(alone.finish()).toBeNull()
    const apart = overlayOn(aligned(ramp), 0.15, 0.2, 100)
    apart.add(aligned(ramp, { length: 0.1 }), true)
    expect(apart.finish()).toBeNull()
  })

  it('looks at a part with the numbers of the whole', () => {
    const next = gaussian(3)
    const own = aligned((t) => ramp(t) + 0.01 * next())
    const other = aligned((t) => ramp(t) + 0.01 * next(), { mid: 0.061 })
    const [whole, part] = [overlayOn(own, 0, 0.2, 8192), overlayOn(own, 0.04, 0.06, 8192)]
    whole.add(other, true)
    part.add(other, true)
    const all = whole.finish()?.residual.min ?? new Float32Array(0)
    expect(part.finish()?.residual.min).toEqual(all.slice(400, 601))
  })
})

describe('spectrum of a span', () => {
  const seconds = (length: number, wave: (t: number) => number): ReturnType<typeof traceOf> =>
    traceOf(
      Float64Array.from({ length: Math.round(length * RATE) }, (_, k) => wave(k / RATE)),
      RATE,
      true,
    )
  const sine = (hz: number, t: number): number => Math.sin(2 * Math.PI * hz * t)

  it('gives amplitudes in volts and names the strongest lines', () => {
    const next = gaussian(5)
    const trace = seconds(
      0.4,
      (t) => 2 + 0.2 * sine(240, t) + 0.05 * sine(50, t) + 0.02 * sine(480, t) + 0.01 * sine(333, t) + 1e-3 * next(),
    )
    const view = spanSpectrum(trace, 0, 0.4, { refreshHz: 144, rippleHz: 240 })
    expect(view?.lines.map((line) => line.name)).toEqual([
      'backlight ripple',
      '50 Hz mains',
      '2 × backlight ripple',
      '',
    ])
    const [ripple, mains, second, other] = view?.lines ?? []
    for (const [line, hz, volts] of [
      [ripple, 240, 0.2],
      [mains, 50, 0.05],
      [second, 480, 0.02],
      [other, 333, 0.01],
    ] as const) {
      expect(Math.abs((line?.frequencyHz ?? 0) - hz)).toBeLessThan(0.3)
      expect((line?.amplitudeV ?? 0) / volts).toBeCloseTo(1, 1)
    }
    expect(view?.resolutionHz).toBeCloseTo(2.5, 1)
    expect((view?.binHz ?? 0) * ((view?.amplitudeV.length ?? 0) - 1)).toBeCloseTo(RATE / 2, 6)
    expect(view?.note).toBe('')
  })

  it('sees only the span that was chosen', () => {
    const trace = seconds(0.6, (t) => (t < 0.3 ? sine(100, t) : sine(200, t)))
    const lines = (from: number, to: number): number[] =>
      (spanSpectrum(trace, from, to, { refreshHz: null, rippleHz: null })?.lines ?? []).map(({ frequencyHz }) =>
        Math.round(frequencyHz),
      )
    expect(lines(0, 0.29)[0]).toBe(100)
    expect(lines(0.31, 0.6)[0]).toBe(200)
    expect(spanSpectrum(trace, -1, 9, { refreshHz: null, rippleHz: null })).toMatchObject({ fromS: 0, toS: 0.5999 })
  })

  it('names nothing that the span is too short to tell apart', () => {
    const trace = seconds(0.06, (t) => sine(100, t))
    const [line] = spanSpectrum(trace, 0, 0.06, { refreshHz: 60, rippleHz: null })?.lines ?? []
    expect(Math.abs((line?.frequencyHz ?? 0) - 100)).toBeLessThan(2)
    expect(line?.name).toBe('')
  })

  it('says where averaging before the transform ends it, and finds no line in noise', () => {
    const next = gaussian(9)
    const long = traceOf(
      Float64Array.from({ length: 100_000 }, () => next() * 0.01),
      1_000_000,
    )
    const view = spanSpectrum(long, 0, 0.1, { refreshHz: null, rippleHz: null })
    expect(view?.note).toMatch(/ends at/)
    expect(view?.lines).toEqual([])
    expect(spanSpectrum(long, 0, 0.00001, { refreshHz: null, rippleHz: null })).toBeNull()
  })

  it('is flat where a step response has come to rest', () => {
    const trace = seconds(0.4, (t) => 1 + firstOrder(0.003)(t - 0.1))
    expect(spanSpectrum(trace, 0.25, 0.4, { refreshHz: 60, rippleHz: null })?.lines).toEqual([])
  })
})
