/** Each doubt is raised by what it is for, with its number, limit and samples, and by nothing else. */
import { describe, expect, it } from 'vitest'
import { DETECTOR_NOT_STATED, type Result } from '#shared/domain/result.ts'
import type { MeasureInput } from '#shared/domain/measure-input.ts'
import { MEASURE_IDS } from '#shared/domain/measures.ts'
import { groupFlags, type GroupRow } from '#shared/measure/group-flags.ts'
import { measureCapture } from '#shared/measure/measure-capture.ts'
import {
  firstOrder,
  gaussian,
  flagIds,
  flagOf,
  inputOf,
  ladderOf,
  measure,
  overdriven,
  record,
  srgb,
  type Trace,
  type Wave,
} from './waves.ts'

const ms = 1e-3
const clean: Wave = (t) => 1 + 2 * firstOrder(ms)(t)
/** Changes samples of a 16-bit record in place of a fault. */
const broken = (trace: Trace, change: (samples: Int16Array) => void): Trace => {
  const samples = Int16Array.from(trace.trace.samples)
  change(samples)
  return { ...trace, trace: { ...trace.trace, samples } }
}
const coded = (noise = 0.002, rest: Partial<Parameters<typeof record>[1]> = {}): Trace =>
  record(clean, { int16: true, noise, ...rest })

it('a good capture raises none', () => {
  for (let seed = 1; seed <= 40; seed++) {
    const ladder = ladderOf([51, 102], { white: 1, light: (level) => (level === 51 ? 1 : 3) })
    const result = measure(coded(0.004, { seed }), {}, { refreshHz: 60, from: 51, to: 102, ladder })
    expect(result.flags).toEqual([])
  }
})

describe('flags of the record', () => {
  it('clipped: two samples at the rail, with their span', () => {
    const result = measure(broken(coded(), (samples) => samples.fill(32767, 5000, 5003)))
    const flag = flagOf(result, 'clipped')
    expect(flag.value).toBe(3)
    expect(flag.span).toEqual([5000, 5002])
    expect(flag.evidence).toMatch(/rail of ±5\.000 V/)
  })

  it('clipped: a plateau at the full scale of decimal volts', () => {
    const trace = record((t) => Math.min(5, 6 * firstOrder(ms)(t)))
    expect(flagOf(measure(trace), 'clipped').value).toBeGreaterThan(5000)
  })

  it('a single sample at the rail is no clipping', () => {
    expect(flagIds(measure(broken(coded(), (samples) => samples.fill(32767, 5000, 5001))))).not.toContain('clipped')
  })

  it('missing samples: not-a-number marks of the instrument, replaced and counted', () => {
    const trace = record(clean, { noise: 0.002 })
    const samples = Float32Array.from(trace.trace.samples)
    samples.fill(9.91e37, 3000, 3004)
    samples[3010] = Number.NaN
    const result = measure({ ...trace, trace: { ...trace.trace, samples } })
    expect(flagOf(result, 'missing-samples').value).toBe(5)
    expect(flagOf(result, 'missing-samples').span).toEqual([3000, 3010])
    expect(result.values.transition_duration_s).toBeCloseTo(2.197 * ms, 4)
  })

  it('missing samples: one value held although there is noise', () => {
    const result = measure(broken(coded(), (samples) => samples.fill(samples[6000] ?? 0, 6000, 6060)))
    expect(flagOf(result, 'missing-samples').value).toBe(60)
    expect(flagOf(result, 'missing-samples').span).toEqual([6000, 6059])
  })

  it('hum: 50 Hz that does not scale with the light', () => {
    const wave: Wave = (t) => clean(t) + 0.02 * Math.sin(2 * Math.PI * 50 * t)
    const result = measure(record(wave, { rate: 20_000, pre: 0.2, post: 0.4, noise: 0.003 }), {}, { refreshHz: 144 })
    const flag = flagOf(result, 'hum')
    expect(flag.evidence).toMatch(/50 Hz/)
    expect(Math.abs((flag.value ?? 0) - 2)).toBeLessThan(0.2)
  })

  it('hum is not seen in a backlight of 120 Hz, nor where the refresh explains the line', () => {
    const backlight: Wave = (t) => clean(t) * (1 + 0.05 * Math.sin(2 * Math.PI * 120 * t))
    const additive: Wave = (t) => clean(t) + 0.02 * Math.sin(2 * Math.PI * 60 * t)
    const options = { rate: 20_000, pre: 0.2, post: 0.4, noise: 0.003 }
    expect(flagIds(measure(record(backlight, options), {}, { refreshHz: 144 }))).not.toContain('hum')
    expect(flagIds(measure(record(additive, options), {}, { refreshHz: 60 }))).not.toContain('hum')
  })
})

describe('flags of the step', () => {
  it('small step: under 20 σ', () => {
    const flag = flagOf(measure(record(clean, { noise: 0.15 })), 'small-step')
    expect(Math.abs((flag.value ?? 0) - 2 / 0.15)).toBeLessThan(1.5)
    expect(flag.limit).toBe(20)
  })

  it('small step: under 100 digitizer steps', () => {
    const lsb = 5 / 32768
    const trace = record((t) => 1 + 60 * lsb * firstOrder(ms)(t), { int16: true, noise: lsb })
    const flag = flagOf(measure(trace), 'small-step')
    expect(flag.unit).toBe('LSB')
    expect(Math.abs((flag.value ?? 0) - 60)).toBeLessThan(1)
  })

  it('small step: a 12-bit digitizer inside 16-bit codes counts its own steps', () => {
    const trace = record((t) => 1 + 0.1 * firstOrder(ms)(t), { int16: true, noise: 0.002 })
    const coarse = broken(trace, (samples) => samples.forEach((code, k) => (samples[k] = Math.round(code / 16) * 16)))
    const flag = flagOf(measure(coarse), 'small-step')
    expect(Math.abs((flag.value ?? 0) - 0.1 / (16 * (5 / 32768)))).toBeLessThan(2)
  })

  it('wrong direction: the light fell where the levels rise', () => {
    const falling = record((t) => 3 - clean(t) / 2)
    expect(flagIds(measure(falling, {}, { from: 0, to: 128 }))).toContain('wrong-direction')
    expect(flagIds(measure(falling, {}, { from: 128, to: 0 }))).not.toContain('wrong-direction')
    // A detector whose volts fall with light is told by the ladder.
    const ladder = ladderOf([0, 128], { white: -3, dark: 4 })
    expect(flagIds(measure(falling, {}, { from: 0, to: 128, ladder }))).not.toContain('wrong-direction')
  })

  it('several crossings: a second step back and forth', () => {
    const wave: Wave = (t) => clean(t) - (t > 0.03 && t < 0.035 ? 1.5 : 0)
    const flag = flagOf(measure(record(wave, { noise: 0.01 })), 'several-crossings')
    expect(flag.value).toBe(3)
  })

  it('under-resolved: fewer than ten samples', () => {
    // 2.197 ms at 4 kHz are 8.8 samples, at 5 kHz 11.
    const of = (rate: number): Result => measure(record(clean, { rate, post: 0.3, pre: 0.1 }))
    const flag = flagOf(of(4000), 'under-resolved')
    expect(Math.abs((flag.value ?? 0) - 8.8)).toBeLessThan(0.3)
    expect(flag.limit).toBe(10)
    expect(flagIds(of(5000))).toEqual([])
  })

  it('a detector that is not stated is said so beside the numbers', () => {
    expect(measure(coded()).reasons.transition_duration_corrected_s).toBe(DETECTOR_NOT_STATED)
  })

  it('detector-limited: under five times the detector’s own duration, and the correction is refused', () => {
    const result = measure(coded(), { detectorS: 1.5 * ms, correctDetector: true })
    expect(flagOf(result, 'detector-limited').limit).toBeCloseTo(7.5 * ms, 9)
    expect(result.values.transition_duration_corrected_s).toBeNull()
    expect(result.reasons.transition_duration_corrected_s).toMatch(/root-sum-square no longer holds/)
  })

  it('edge out of frame: further than one refresh period from the trigger', () => {
    const trace = coded()
    const late = { ...trace, triggerIndex: trace.triggerIndex - 1000 }
    const flag = flagOf(measure(late, {}, { refreshHz: 144 }), 'edge-out-of-frame')
    expect(flag.value ?? 0).toBeCloseTo(0.0107, 3)
    expect(flagIds(measure(late, {}, { refreshHz: 60 }))).not.toContain('edge-out-of-frame')
    expect(flagIds(measure(late, {}, { refreshHz: 144, edgeAtTrigger: false }))).not.toContain('edge-out-of-frame')
  })
})

describe('flags of the plateaus', () => {
  it('drift of more than 2 % through a window', () => {
    const wave: Wave = (t) => clean(t) + 3 * t
    const flag = flagOf(measure(record(wave, { noise: 0.004 })), 'plateau-drift')
    expect(flag.value ?? 0).toBeGreaterThan(2)
    expect(flag.span).not.toBeNull()
  })

  it('ripple is no drift', () => {
    for (const hz of [60, 97, 240]) {
      const wave: Wave = (t) => clean(t) * (1 + 0.1 * Math.sin(2 * Math.PI * hz * t + 0.4))
      const found = flagIds(measure(record(wave, { rate: 20_000, pre: 0.3, post: 0.5, noise: 0.002 })))
      expect(found).not.toContain('plateau-drift')
      expect(found).not.toContain('plateau-not-reached')
    }
  })

  it('plateau not reached: the record ends while the signal still creeps', () => {
    const wave: Wave = (t) => 1 + 2 * firstOrder(25 * ms)(t)
    const flag = flagOf(measure(record(wave, { noise: 0.004 })), 'plateau-not-reached')
    // exp(−80/25) = 4 % is missing at the end, and more in the mean of the window.
    expect(flag.value ?? 0).toBeGreaterThan(3)
  })

  it('levels that differ from the ladder by more than 3 %', () => {
    const levels = { white: 1, light: (level: number) => (level === 51 ? 1 : 3.2) }
    const flag = flagOf(
      measure(coded(), {}, { from: 51, to: 102, ladder: ladderOf([51, 102], levels) }),
      'ladder-disagrees',
    )
    expect(Math.abs((flag.value ?? 0) - 6.25)).toBeLessThan(0.1)
    expect(flag.evidence).toMatch(/Level 102/)
  })

  it('near black 3 % of next to nothing is no disagreement', () => {
    const ladder = ladderOf([0, 255])
    const trace = record((t) => 0.003 + 4 * firstOrder(ms)(t) * srgb(255), { noise: 0.004 })
    expect(flagIds(measure(trace, {}, { from: 0, to: 255, ladder }))).not.toContain('ladder-disagrees')
  })

  it('an excursion that is not over where the record ends', () => {
    const wave = overdriven(0.3, ms, 400 * ms)
    const result = measure(
      record(wave, { post: 0.05 }),
      { levels: { kind: 'ladder' } },
      { from: 0, to: 255, ladder: ladderOf([0, 255], { white: 1 }) },
    )
    expect(flagIds(result)).toContain('edge-of-record')
    expect(result.values.overshoot_length_s).toBeNull()
  })
})

describe('what cannot be measured', () => {
  const empty = (input: MeasureInput): void => {
    const result = measureCapture(input)
    for (const id of MEASURE_IDS) {
      if (result.values[id] === null) expect(result.reasons[id], id).toBeTruthy()
      else expect(Number.isFinite(result.values[id])).toBe(true)
    }
    expect(result.values.transition_duration_s).toBeNull()
  }
  const of = (samples: ArrayLike<number>, sampleRateHz = 1e5): MeasureInput =>
    inputOf({
      trace: { format: 'real32', samples: Float32Array.from(samples), sampleRateHz, scaleV: 1, offsetV: 0, rangeV: 5 },
      triggerIndex: 0,
    })

  it('has reasons and no numbers', () => {
    empty(of([]))
    empty(of([1, 2, 3]))
    empty(of(new Float32Array(1000)))
    empty(of(new Float32Array(1000).fill(Number.NaN)))
    empty(of(new Float32Array(1000).fill(Infinity)))
    empty(
      of(
        Array.from({ length: 1000 }, (_, k) => (k < 500 ? 0 : 1)),
        0,
      ),
    )
    empty(
      of(
        Array.from({ length: 1000 }, (_, k) => (k < 500 ? 0 : 1)),
        Number.NaN,
      ),
    )
    empty(of(Array.from({ length: 4000 }, (_, k) => Math.sin(k * 1.7) * Math.sin(k * k))))
  })

  it('levels from a ladder that is missing, or lacks the level', () => {
    const levels = { levels: { kind: 'ladder' as const } }
    expect(measure(coded(), levels).reasons.step_v).toMatch(/none was measured/)
    expect(measure(coded(), levels, { ladder: ladderOf([0, 255]) }).reasons.step_v).toMatch(/not known/)
    const partial = { ladder: ladderOf([0, 255]), from: 51, to: 255 }
    expect(measure(coded(), levels, partial).reasons.step_v).toMatch(/does not hold level 51/)
  })

  it('frame measures without a refresh rate', () => {
    const result = measure(coded())
    for (const id of ['first_frame_completion_pct', 'in_window', 'blur_edge_s', 'gaussian_edge_s'] as const) {
      expect(result.reasons[id]).toBe('The refresh rate is not known.')
    }
  })

  it('a record that ends within the first frame, or before the span of the error', () => {
    const short = record(clean, { post: 0.012 })
    const result = measure(short, { errorSpanS: 1 }, { refreshHz: 60 })
    expect(result.reasons.first_frame_completion_pct).toMatch(/ends within the first frame/)
    expect(result.reasons.integrated_error_s).toMatch(/before the span/)
    expect(result.reasons.blur_edge_s).toMatch(/before the moving edge/)
  })

  it('in-window is 0, not undefined, when the signal plainly does not settle in time', () => {
    const wave: Wave = (t) => clean(t) + (t > 0 ? 0.2 * Math.sin(2 * Math.PI * 150 * t) : 0)
    const result = measure(record(wave), {}, { refreshHz: 240 })
    expect(result.values.settling_s).toBeNull()
    expect(result.values.in_window).toBe(0)
  })
})

describe('a person’s marks', () => {
  const trace = coded()
  it('move the windows', () => {
    const override = { beforeWindow: [0.001, 0.005] as [number, number], afterWindow: [0.05, 0.06] as [number, number] }
    const { landmarks } = measure(trace, {}, { override })
    expect(landmarks.beforeWindow?.[0]).toBeCloseTo(0.001, 6)
    expect(landmarks.beforeWindow?.[1]).toBeCloseTo(0.005, 6)
    expect(landmarks.afterWindow?.[0]).toBeCloseTo(0.05, 6)
    expect(landmarks.afterWindow?.[1]).toBeCloseTo(0.06, 6)
  })

  it('move the crossings', () => {
    const override = { crossLowS: 0.0201, crossHighS: 0.0231 }
    const result = measure(trace, {}, { override })
    expect(result.values.transition_duration_s).toBeCloseTo(0.003, 9)
    expect(result.landmarks.crossLowS).toBeCloseTo(0.0201, 9)
    const backwards = measure(trace, {}, { override: { crossLowS: 0.03, crossHighS: 0.02 } })
    expect(backwards.reasons.transition_duration_s).toMatch(/do not follow each other/)
  })

  it('limit what is looked at, times still counting from the first sample', () => {
    const wave: Wave = (t) => clean(t) - (t > 0.06 ? 5 : 0)
    const twice = record(wave, { noise: 0.002 })
    const span = [0.005, 0.075] as [number, number]
    const result = measure(twice, {}, { override: { span } })
    expect(result.landmarks.crossMidS).toBeCloseTo(0.02 + Math.LN2 * ms, 4)
    expect(result.values.transition_duration_s).toBeCloseTo(2.197 * ms, 4)
    expect(measure(twice, {}, { override: { span: [0.2, 0.3] } }).reasons.step_v).toMatch(/samples/)
  })
})

describe('flags from comparing captures', () => {
  const base = measure(coded(), {}, { refreshHz: 60 })
  const row = (id: number, duration: number | null, ripple: number | null = null, to = 102): GroupRow => ({
    info: { id, from: 51, to },
    values: { ...base.values, transition_duration_s: duration, ripple_frequency_hz: ripple },
  })

  it('a repeat further from the others than chance explains', () => {
    const rows = [5, 5.02, 4.98, 5.01, 4.99, 6].map((value, k) => row(k + 1, value * ms))
    const found = groupFlags(rows)
    expect(found.map(({ captureId, flag }) => [captureId, flag.id])).toEqual([[6, 'differs-from-repeats']])
    expect(found[0]?.flag.evidence).toMatch(/median 5\.000 ms of 5 other captures/)
  })

  it('sound sweeps: normal repeats are doubted in about one sweep of fifty, however many there are', () => {
    const next = gaussian(7)
    let doubted = 0
    for (let sweep = 0; sweep < 400; sweep++) {
      const rows = Array.from({ length: 150 }, (_, k) => row(k, (5 + 0.02 * next()) * ms, null, Math.floor(k / 5)))
      if (groupFlags(rows).length > 0) doubted++
    }
    // Binomial: 8 expected, more than 12 in one run of sixteen; the seed is fixed.
    expect(doubted).toBeLessThanOrEqual(12)
  })

  it('against those that count only; the others are judged all the same', () => {
    const values = [5, 5.02, 4.98, 5.01, 6, 6.02, 5.99]
    const rows = values.map((value, k) => ({ ...row(k + 1, value * ms), counts: k < 4 }))
    const found = groupFlags(rows)
    expect(found.map(({ captureId }) => captureId)).toEqual([5, 6, 7])
    expect(found[0]?.flag.evidence).toMatch(/median 5\.005 ms of 4 other captures/)
    // With three that count there is nothing to compare with, however many others there are.
    expect(groupFlags(rows.map((one, k) => ({ ...one, counts: k < 3 })))).toEqual([])
    const ripples = [240, 240.1, 239.9, 240, 261, 262, 263].map((hz, k) => ({ ...row(k, null, hz), counts: k < 4 }))
    expect(groupFlags(ripples).map(({ captureId }) => captureId)).toEqual([4, 5, 6])
  })

  it('not among other transitions, not among three, not within the durations’ own uncertainty', () => {
    expect(groupFlags([5, 5.02, 4.98].map((value, k) => row(k, value * ms)).concat(row(9, 9 * ms, null, 204)))).toEqual(
      [],
    )
    expect(groupFlags([5, 5.02, 9].map((value, k) => row(k, value * ms)))).toEqual([])
    const unsure = [5, 5, 5, 5.2].map((value, k) => ({
      ...row(k, value * ms),
      uncertainties: { transition_duration_s: 0.1 * ms },
    }))
    expect(groupFlags(unsure)).toEqual([])
    expect(groupFlags([5, 5, 5, null].map((value, k) => row(k, value === null ? null : value * ms)))).toEqual([])
    expect(groupFlags([{ info: { id: 1, from: 0, to: 1 }, values: null }])).toEqual([])
  })

  it('an outlier does not hide behind a spread that it makes itself', () => {
    const next = gaussian(16)
    const values = [9.76, 9.77, 10.55, 10.44, 6.7]
    const others = Array.from({ length: 45 }, (_, k) => row(k + 5, (10 + 0.4 * next()) * ms, null, Math.floor(k / 5)))
    const rows = [...values.map((value, k) => row(k, value * ms)), ...others]
    expect(groupFlags(rows).map(({ captureId }) => captureId)).toEqual([4])
    // Alone, five that spread by 0.4 tell nothing: t of 7 with three degrees of freedom, five times looked for.
    expect(groupFlags(rows.slice(0, 5))).toEqual([])
  })

  it('uncertainties that repeats share do not hide one, except between pulses of light', () => {
    const next = gaussian(11)
    const sweep = (crosstalk: number | null): GroupRow[] =>
      Array.from({ length: 150 }, (_, k) => {
        const one = row(k, (k === 17 ? 8.5 : 5 + 0.02 * next()) * ms, null, Math.floor(k / 5))
        const values = { ...one.values!, first_pulse_crosstalk_pct: crosstalk }
        return { ...one, values, uncertainties: { transition_duration_s: 1 * ms } }
      })
    expect(groupFlags(sweep(null)).map(({ captureId }) => captureId)).toContain(17)
    expect(groupFlags(sweep(20))).toEqual([])
  })

  it('repeats are held against cells alike: short transitions may spread by more of themselves than long ones', () => {
    const next = gaussian(12)
    const rows = Array.from({ length: 150 }, (_, k) => {
      const short = k < 100
      return row(k, (k === 123 ? 8.3 : (short ? 2 : 7) + (short ? 0.5 : 0.05) * next()) * ms, null, Math.floor(k / 5))
    })
    expect(groupFlags(rows).map(({ captureId }) => captureId)).toEqual([123])
  })

  it('an outlier of its own cell by Grubbs, where other cells spread more', () => {
    const next = gaussian(14)
    const rows = Array.from({ length: 150 }, (_, k) => {
      const quiet = k < 5
      return row(k, (k === 3 ? 5.6 : 5 + (quiet ? 0.002 : 0.2) * next()) * ms, null, Math.floor(k / 5))
    })
    expect(groupFlags(rows).map(({ captureId }) => captureId)).toEqual([3])
  })

  it('a ripple that is not the sweep’s', () => {
    const found = groupFlags([240, 240.1, 239.9, 240, 261].map((hz, k) => row(k, null, hz, 100 + k)))
    expect(found.map(({ captureId, flag }) => [captureId, flag.id])).toEqual([[4, 'ripple-differs']])
  })

  it('not a ripple of which half the captures show another harmonic', () => {
    const halves = [240, 480, 240, 480, 240.1, 480.1, 480, 240].map((hz, k) => row(k, null, hz))
    expect(groupFlags(halves)).toEqual([])
  })
})

describe('what the recipe leaves in the trace', () => {
  const options = { rate: 50_000, pre: 0.05, post: 0.25, noise: 0.001 }
  const step: Wave = (t) => 0.2 + 0.4 * firstOrder(2 * ms)(t)
  const rippled = (hz: number, depth: number): Trace =>
    record((t) => step(t) * (1 + depth * Math.sin(2 * Math.PI * hz * t + 0.7)), options)

  it('is said with its frequency, the measure it moves most, and the recipe that would remove it', () => {
    for (const [hz, depth] of [
      [220, 0.05],
      [1000, 0.02],
    ] as const) {
      const result = measure(rippled(hz, depth), {}, { refreshHz: 60 })
      expect(flagOf(result, 'left-in-trace').evidence).toMatch(/Ripple of .* Hz is left .* mean over one ripple period/)
      const condition = { kind: 'one-period-mean' as const, frequencyHz: null, periods: 1 }
      expect(flagIds(measure(rippled(hz, depth), { condition }, { refreshHz: 60 }))).not.toContain('left-in-trace')
    }
  })

  it('is no flag where it moves nothing by what matters, and drift is one where it is even', () => {
    expect(flagIds(measure(rippled(1000, 0.0005), {}, { refreshHz: 60 }))).not.toContain('left-in-trace')
    const drifting = record((t) => step(t) + 0.04 * t, options)
    expect(flagOf(measure(drifting, {}, { refreshHz: 60 }), 'left-in-trace').evidence).toMatch(/^Drift is left/)
  })
})
