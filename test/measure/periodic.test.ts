import { fc } from '../support/fast-check.ts'
import { describe, expect, it } from 'vitest'
import type { RawTrace } from '#shared/domain/capture.ts'
import { pstLm, WEIGHTING } from '#shared/measure/flicker-pst.ts'
import {
  lowRiskModulation,
  modulationRegion,
  noEffectModulation,
  svmThreshold,
  tableFlicker,
  tableWeightDb,
  temporalSensitivity,
} from '#shared/measure/flicker-weights.ts'
import { measurePeriodic, PERIODIC_IDS } from '#shared/measure/periodic.ts'

/** A record of `seconds` at `rate`, from a function of time; deterministic noise when asked. */
function record(rate: number, seconds: number, light: (t: number) => number, noise = 0): RawTrace {
  let state = 1
  const random = () => {
    state = (Math.imul(state, 1664525) + 1013904223) >>> 0
    return state / 2 ** 32
  }
  const samples = Float32Array.from({ length: Math.round(rate * seconds) }, (_, i) => {
    const wobble = noise === 0 ? 0 : noise * Math.sqrt(2) * (random() + random() + random() + random() - 2) * 1.2247
    return light(i / rate) + wobble
  })
  return { format: 'real32', samples, sampleRateHz: rate, scaleV: 1, offsetV: 0, rangeV: 10 }
}
const sine = (f: number, m: number) => (t: number) => 1 + m * Math.sin(2 * Math.PI * f * t)
const square =
  (f: number, duty: number, low = 0, high = 1) =>
  (t: number) =>
    // The tiny shift keeps edges off the sample instants, where rounding would decide.
    (t * f + 1e-9) % 1 < duty ? high : low
const dark = { darkV: 0 }
const rectified = (t: number) => Math.abs(Math.sin(2 * Math.PI * 50 * t))
const weakQuarter = (t: number) => sine(240, 0.5)(t) + 0.02 * Math.sin(2 * Math.PI * 60 * t)
const unrelated = (t: number) => sine(240, 0.5)(t) + 0.1 * Math.sin(2 * Math.PI * 77.7 * t)
const lifted = (t: number) => 0.5 + sine(100, 0.5)(t)

const pstAt = (rate: number) => measurePeriodic(record(rate, 62, sine(8.8, 0.01)), dark).values.pst_lm ?? 0

/** Product of two polynomials, highest power first. */
function times(a: readonly number[], b: readonly number[]): number[] {
  const product: number[] = Array.from({ length: a.length + b.length - 1 }, () => 0)
  a.forEach((x, i) => b.forEach((y, j) => (product[i + j] = (product[i + j] ?? 0) + x * y)))
  return product
}

// Beside the rows of the check values, which stand in test/check-values/periodic-rows.ts alone.
describe('periodic light: what else the waves of the check values have', () => {
  it('a fully modulated sine has its RMS, duty and frequency', () => {
    const { values } = measurePeriodic(record(50_000, 1, sine(100, 1)), dark)
    expect(values.rms_pct).toBeCloseTo(100 / Math.SQRT2, 3)
    expect(values.duty_pct).toBeCloseTo(50, 6)
    expect(values.fundamental_hz).toBeCloseTo(100, 9)
  })

  it('squares have their duty and their swing; |sin| repeats at twice its frequency', () => {
    expect(measurePeriodic(record(50_000, 1, square(100, 0.2)), dark).values.duty_pct).toBeCloseTo(20, 6)
    const { values } = measurePeriodic(record(50_000, 1, square(100, 0.3, 0.2)), dark)
    expect(values.peak_to_peak_pct).toBeCloseTo(100 * (0.8 / 0.44), 4)
    expect(measurePeriodic(record(50_000, 1, rectified), dark).values.fundamental_hz).toBeCloseTo(100, 9)
  })

  it('a triangle has flicker index 0.25 and a fundamental line of 8/π² of its half swing', () => {
    const { values, components } = measurePeriodic(
      record(60_000, 1, (t) => Math.abs(2 * ((t * 120) % 1) - 1)),
      dark,
    )
    expect(values.flicker_index).toBeCloseTo(0.25, 4)
    expect(components[0]?.relative).toBeCloseTo(8 / Math.PI ** 2, 4)
    expect(components[1]?.relative).toBeLessThan(1e-4)
  })

  it('the lines of IEEE 1789-2015 end, and a modulation lies under, between or over them', () => {
    expect([lowRiskModulation(2000), noEffectModulation(2000), noEffectModulation(4000)]).toEqual([
      null,
      expect.closeTo(66.6, 9),
      null,
    ])
    expect(modulationRegion(120, 3).region).toBe('under both lines')
    expect(modulationRegion(120, 8).region).toBe('between the lines')
    expect(modulationRegion(120, 30).region).toBe('over both lines')
    expect(modulationRegion(5000, 90).region).toBe('no limit stated')
    expect(modulationRegion(120, 30).note).toContain('not a safety verdict')
  })

  it('SVM has its threshold table', () => {
    const table: [number, number][] = [
      [80, 0.24288],
      [100, 0.256275],
      [120, 0.275684],
      [144, 0.301068],
      [200, 0.365357],
      [240, 0.414598],
      [306.6, 0.5],
      [480, 0.710582],
      [1000, 0.97319],
    ]
    for (const [f, t] of table) expect(svmThreshold(f)).toBeCloseTo(t, 5)
  })

  it('PstLM does not depend on the sample rate', () => {
    expect(pstAt(8000) / pstAt(4000)).toBeCloseTo(1, 3)
    expect(pstAt(2000) / pstAt(4000)).toBeCloseTo(1, 2)
  })

  it('the factored flickermeter weighting is the published polynomial', () => {
    const { gain, zeros, realPoles, pair } = WEIGHTING
    const top = zeros.reduce<number[]>((p, z) => times(p, [1, z]), [gain])
    const bottom = realPoles.reduce<number[]>(
      (p, z) => times(p, [1, z]),
      [1, 2 * pair.real, pair.real ** 2 + pair.imaginary ** 2],
    )
    ;[0.041661, 44.758, 2715.6, 29839].forEach((c, i) => expect((top[i] ?? 0) / c).toBeCloseTo(1, 9))
    ;[1, 196.32, 11781, 534820, 3505380].forEach((c, i) => expect((bottom[i] ?? 0) / c).toBeCloseTo(1, 9))
  })

  it('temporal sensitivity has its published peak', () => {
    let peak = 0
    for (let f = 1; f < 60; f += 0.01) peak = Math.max(peak, temporalSensitivity(f))
    expect(peak).toBeCloseTo(173.107, 3)
  })

  it('row 36: 10 % at 30 Hz is −23.0 dB by the weight table', () => {
    const { values } = measurePeriodic(record(4000, 8, sine(30, 0.1)), dark)
    expect(values.table_db_amplitude).toBeCloseTo(-23, 4)
    expect(values.table_db_power).toBeCloseTo(-29.0206, 4)
    expect([10, 20, 35, 60, 100].map(tableWeightDb)).toEqual([0, 0, -4.5, -40, -40])
    expect(tableFlicker([{ frequencyHz: 200, relative: 1, u: 0 }])).toBeNull()
  })
})

describe('periodic light: behaviour', () => {
  it('finds a fundamental that falls between bins to a few parts in 1e7 under noise', () => {
    const { values } = measurePeriodic(record(50_000, 1, sine(241.37, 0.5), 0.01), dark)
    expect(Math.abs((values.fundamental_hz ?? 0) / 241.37 - 1)).toBeLessThan(2e-6)
    expect(Math.abs((values.percent_flicker_pct ?? 0) - 50)).toBeLessThan(0.2)
    expect(Math.abs((values.noise_pct ?? 0) - 1)).toBeLessThan(0.15)
  })

  it('a weak line at a quarter of the strong one is the repetition', () => {
    const { values, notes } = measurePeriodic(record(50_000, 0.5, weakQuarter), dark)
    expect(values.fundamental_hz).toBeCloseTo(60, 6)
    expect(notes).toEqual([])
  })

  it('lines without a common fundamental have no waveform readings, with reasons', () => {
    const { values, reasons, components, notes } = measurePeriodic(record(50_000, 0.5, unrelated), dark)
    expect(values.fundamental_hz).toBeCloseTo(240, 3)
    expect(values.flicker_index).toBeNull()
    expect(reasons.flicker_index).toContain('share no fundamental')
    expect(notes.join(' ')).toContain('77.7')
    expect(components.map((component) => component.relative)[0]).toBeCloseTo(0.1, 3)
    expect(values.visibility_jnd).toBeCloseTo(temporalSensitivity(77.7) * 0.1, 3)
  })

  it('steep edges that alias do not hide the fundamental', () => {
    for (const rate of [10_000, 12_345, 50_000, 44_100])
      for (const f of [100, 240, 365.2]) {
        const { values } = measurePeriodic(record(rate, 1, square(f, 0.3, 0.1)), dark)
        expect(Math.abs((values.fundamental_hz ?? 0) / f - 1), `${f} Hz at ${rate}`).toBeLessThan(1e-4)
      }
  })

  it('noise alone is nothing periodic, with the bound it can state', () => {
    let found = 0
    for (const seconds of [0.1, 0.3, 1, 2]) {
      const { values, reasons } = measurePeriodic(
        record(20_000, seconds, () => 1, 0.01),
        dark,
      )
      if (values.fundamental_hz !== null) found++
      else expect(reasons.percent_flicker_pct).toContain('nothing periodic above')
    }
    expect(found).toBe(0)
  })

  it('takes the dark level off, says when it was not given, and tells of clipping', () => {
    const known = measurePeriodic(record(50_000, 0.5, lifted), { darkV: 0.5 })
    expect(known.values.percent_flicker_pct).toBeCloseTo(50, 3)
    const unknown = measurePeriodic(record(50_000, 0.5, lifted))
    expect(unknown.values.percent_flicker_pct).toBeCloseTo(100 / 3, 2)
    expect(unknown.notes[0]).toContain('dark level was not measured')
    const clipped = measurePeriodic({ ...record(50_000, 0.5, lifted), rangeV: 1.9 }, dark)
    expect(clipped.notes[0]).toContain('rail')
  })

  it('has a reason for every missing value: short, dark, slow, few samples a cycle', () => {
    const cases: [RawTrace, string][] = [
      [record(1000, 0, () => 1), 'empty'],
      [record(1000, 0.03, () => 1), 'at least 64'],
      [record(10_000, 1, () => -1), 'no light'],
      [record(1000, 1, sine(80, 0.5)), 'samples; its shape needs'],
      [record(1000, 1, () => Number.NaN), 'not numbers'],
      // Seven short pulses: the strongest of their harmonics is no fundamental.
      [record(50_000, 0.058, (t) => 0.02 + Number((t * 120) % 1 < 0.06)), 'The light repeats about 7.0 times'],
    ]
    for (const [trace, reason] of cases) {
      const result = measurePeriodic(trace, dark)
      expect(Object.values(result.reasons).join(' ')).toContain(reason)
      for (const id of PERIODIC_IDS)
        expect((result.values[id] === null) !== (result.reasons[id] === undefined)).toBe(true)
    }
    expect(pstLm(new Float64Array(1000), 1000, 0).reason).toContain('2000 S/s')
    expect(pstLm(new Float64Array(4000), 4000, 0).reason).toContain('Needs 60 s')
  })

  it('never answers NaN or infinity, whatever the record', () => {
    fc.assert(
      fc.property(
        fc.array(fc.oneof(fc.float({ noNaN: true, min: -20, max: 20 }), fc.constant(0)), { maxLength: 300 }),
        fc.double({ min: 10, max: 1e6, noNaN: true }),
        (samples, sampleRateHz) => {
          const trace = { format: 'real32' as const, samples: Float32Array.from(samples), sampleRateHz }
          const { values, reasons } = measurePeriodic({ ...trace, scaleV: 1, offsetV: 0, rangeV: 10 })
          for (const id of PERIODIC_IDS) {
            const value = values[id]
            expect(value === null ? typeof reasons[id] : Number.isFinite(value)).toBe(value === null ? 'string' : true)
          }
        },
      ),
      { numRuns: 200 },
    )
  })

  it('depths do not change with gain, and int16 records measure like volts', () => {
    const volts = record(50_000, 0.5, sine(120, 0.3))
    const int16 = {
      ...volts,
      format: 'int16' as const,
      samples: Int16Array.from(volts.samples, (v) => Math.round((v / 10) * 32768)),
      scaleV: 10 / 32768,
    }
    const a = measurePeriodic(volts, dark).values
    const b = measurePeriodic(int16, dark).values
    const c = measurePeriodic({ ...volts, scaleV: 0.01 }, dark).values
    expect(Math.abs((b.percent_flicker_pct ?? 0) - (a.percent_flicker_pct ?? 0))).toBeLessThan(0.02)
    expect(c.svm).toBeCloseTo(a.svm ?? 0, 9)
    expect(c.flicker_index).toBeCloseTo(a.flicker_index ?? 0, 9)
  })
})
