/** Ripple, conditioning and strobed backlights against closed forms. */
import { describe, expect, it } from 'vitest'
import { broadening, durationBiasPct } from '#shared/measure/broadening.ts'
import { traceVolts } from '#shared/measure/analysis.ts'
import { conditionedTrace } from '#shared/measure/analysis.ts'
import { measureCapture } from '#shared/measure/measure-capture.ts'
import { recipeSchema, type Recipe } from '#shared/domain/recipe.ts'
import type { RecipeInput } from '../support/recipe-input.ts'
import { firstOrder, flagIds, inputOf, ladderOf, measure, record, valueOf, type Wave } from './waves.ts'

const ms = 1e-3
const conditionOf = (condition: RecipeInput['condition']): Recipe['condition'] =>
  recipeSchema.parse({ name: 'test', condition }).condition

/** Light from 0.3 V to 2 V by a first-order response, under a backlight. */
const under =
  (backlight: Wave, tau = 3 * ms): Wave =>
  (t) =>
    (0.3 + 1.7 * firstOrder(tau)(t)) * backlight(t)
const sine =
  (hz: number, depth: number): Wave =>
  (t) =>
    1 + depth * Math.sin(2 * Math.PI * hz * t + 1)
/** Pulsed light averaged over a sample of 1/rate, as a detector sees it: edges fall between samples. */
const pulsed = (hz: number, duty: number, low: number, rate: number): Wave => {
  const lit = (t: number): number => {
    const cycles = t * hz
    const whole = Math.floor(cycles)
    return (whole * duty + Math.min(duty, cycles - whole)) / hz
  }
  return (t) => low + (1 - low) * (lit(t + 0.5 / rate) - lit(t - 0.5 / rate)) * rate
}
const fallToBlack: Wave = (t) => (2 - 2 * firstOrder(ms)(t)) * sine(240, 0.1)(t)
const slowTail: Wave = (t) => 0.3 + firstOrder(30 * ms)(t) + 0.2 * t
const lifted: Wave = (t) => 0.5 + under(sine(240, 0.3))(t)
const rate = 50_000
const long = { rate, pre: 0.1, post: 0.3 }
const exact = Math.log(9) * 3 * ms

describe('ripple', () => {
  it.each([
    [60, 0.05],
    [240, 0.1],
    [487.3, 0.02],
    [8_003.7, 0.1],
    [19_321, 0.2],
  ])('of %f Hz and depth %f is found', (hz, depth) => {
    const result = measure(record(under(sine(hz, depth)), { ...long, noise: 0.002 }))
    expect(Math.abs(valueOf(result, 'ripple_frequency_hz') / hz - 1)).toBeLessThan(0.004)
    expect(Math.abs(valueOf(result, 'ripple_depth_pct') / (100 * depth) - 1)).toBeLessThan(0.08)
  })

  it('is read from the plateau with more light, before a fall to black too', () => {
    const result = measure(record(fallToBlack, { ...long, noise: 0.002 }), {}, { ladder: ladderOf([0, 255]) })
    expect(Math.abs(valueOf(result, 'ripple_frequency_hz') - 240)).toBeLessThan(1)
    expect(Math.abs(valueOf(result, 'ripple_depth_pct') - 10)).toBeLessThan(0.8)
  })

  it('depth of a pulsed backlight: peak to peak over twice the mean, 31.25 % for 1 to 0.5 at 60 % duty', () => {
    const result = measure(record(under(pulsed(487.3, 0.6, 0.5, rate)), long))
    expect(Math.abs(valueOf(result, 'ripple_depth_pct') - (100 * 0.5) / (2 * 0.8))).toBeLessThan(0.5)
  })

  it.each([0, 0.002, 0.02])('is not invented by a slow tail or by noise of %f V', (noise) => {
    for (let seed = 1; seed <= 20; seed++) {
      const result = measure(record(slowTail, { ...long, noise, seed }))
      expect(result.values.ripple_frequency_hz).toBeNull()
      expect(result.reasons.ripple_depth_pct).toMatch(/No periodic component/)
    }
  })

  it('widens the uncertainty of what it moves', () => {
    let worst = 0
    for (let k = 0; k < 12; k++) {
      const wave: Wave = (t) => under((x) => sine(240, 0.04)(x + k / 12 / 240))(t)
      const result = measure(record(wave, { ...long, noise: 0.001 }))
      const u = result.uncertainties.transition_duration_s ?? 0
      worst = Math.max(worst, Math.abs(valueOf(result, 'transition_duration_s') - exact) / u)
    }
    expect(worst).toBeLessThan(3)
    expect(worst).toBeGreaterThan(0.5)
  })
})

describe('division by the backlight', () => {
  it.each<[string, Wave]>([
    ['sine of 10 %', sine(240, 0.1)],
    ['sine of 40 %', sine(120.7, 0.4)],
    ['pulses to a half', pulsed(487.3, 0.6, 0.5, rate)],
    ['pulses to a fifth', pulsed(961, 0.5, 0.2, rate)],
  ])('%s: duration and overshoot as without ripple, within 2 %% (bound reported for this method)', (_, backlight) => {
    for (const noise of [0, 0.004]) {
      const result = measure(record(under(backlight), { ...long, noise }), {
        condition: { kind: 'divide', frequencyHz: null },
      })
      expect(Math.abs(valueOf(result, 'transition_duration_s') / exact - 1)).toBeLessThan(0.02)
      expect(valueOf(result, 'overshoot_pct')).toBeLessThan(2)
      expect(Math.abs(valueOf(result, 'settling_s') / (Math.log(97 / 3) * 3 * ms) - 1)).toBeLessThan(0.06)
    }
  })

  it('counts light from the dark voltage', () => {
    const ladder = ladderOf([0, 255], { dark: 0.5 })
    const result = measure(record(lifted, long), { condition: { kind: 'divide', frequencyHz: null } }, { ladder })
    expect(Math.abs(valueOf(result, 'transition_duration_s') / exact - 1)).toBeLessThan(0.002)
  })

  it('is refused where the backlight nears zero; ripple and noise are still reported', () => {
    const wave = under(pulsed(487.3, 0.5, 0.02, rate))
    const result = measure(record(wave, long), { condition: { kind: 'divide', frequencyHz: null } })
    expect(result.values.transition_duration_s).toBeNull()
    expect(result.reasons.transition_duration_s).toMatch(/falls to 4 % of its mean/)
    expect(valueOf(result, 'ripple_frequency_hz')).toBeCloseTo(487.3, 0)
  })

  it('leaves a trace without ripple as it is', () => {
    const trace = record((t) => 0.3 + firstOrder(ms)(t), { noise: 0.002 })
    const divided = measure(trace, { condition: { kind: 'divide', frequencyHz: null } })
    expect(divided.values.transition_duration_s).toBe(measure(trace).values.transition_duration_s)
  })
})

describe('mean over ripple periods', () => {
  it('of 4.1667 ms lengthens τ = 1 ms to 3.950971 ms (+79.8 %, computed), and says so', () => {
    const condition = { kind: 'one-period-mean', frequencyHz: 240, periods: 1 } as const
    const result = measure(record(firstOrder(ms), { rate: 200_000 }), { condition })
    const value = valueOf(result, 'transition_duration_s')
    expect(Math.abs(value / (3.950971 * ms) - 1)).toBeLessThan(2e-3)
    const flag = result.flags.find((one) => one.id === 'conditioning-bias')
    expect(flag?.value).toBeCloseTo(79.8, 0)
  })

  it.each([
    [1, 7.44],
    [2, 25.49],
  ])('of %i τ: +%f %% (computed)', (width, bias) => {
    const condition = { kind: 'one-period-mean', frequencyHz: 1000 / width, periods: 1 } as const
    const result = measure(record(firstOrder(ms), { rate: 400_000 }), { condition })
    expect(100 * (valueOf(result, 'transition_duration_s') / (2.197225 * ms) - 1)).toBeCloseTo(bias, 1)
  })

  it('of 0.2 τ changes nothing (computed) and raises no flag', () => {
    const condition = { kind: 'one-period-mean', frequencyHz: 5000, periods: 1 } as const
    const result = measure(record(firstOrder(ms), { rate: 400_000 }), { condition })
    expect(Math.abs(valueOf(result, 'transition_duration_s') / (2.197225 * ms) - 1)).toBeLessThan(1e-3)
    expect(flagIds(result)).not.toContain('conditioning-bias')
  })

  it('finds its period itself and removes the ripple', () => {
    const wave = under(sine(487.3, 0.3), 10 * ms)
    const condition = { kind: 'one-period-mean', frequencyHz: null, periods: 1 } as const
    const input = inputOf(record(wave, { ...long, post: 0.5 }), { condition })
    const volts = conditionedTrace(input)
    const tail = volts.subarray(volts.length - 5000)
    expect(Math.max(...tail) - Math.min(...tail)).toBeLessThan(0.002)
    expect(
      Math.abs(valueOf(measureCapture(input), 'transition_duration_s') / (Math.log(9) * 10 * ms) - 1),
    ).toBeLessThan(0.02)
  })

  it('longer than half the record is refused', () => {
    const condition = { kind: 'one-period-mean', frequencyHz: 20, periods: 50 } as const
    expect(measure(record(firstOrder(ms)), { condition }).reasons.transition_duration_s).toMatch(/half the record/)
  })
})

describe('broadening by conditioning', () => {
  it('is 0 for none and division, 0.8 of a mean, 0.35 over the cut-off of a low-pass', () => {
    expect(broadening(conditionOf({ kind: 'none' }), rate)?.durationS).toBe(0)
    expect(broadening(conditionOf({ kind: 'divide', frequencyHz: null }), rate)?.durationS).toBe(0)
    const mean = conditionOf({ kind: 'one-period-mean', frequencyHz: null, periods: 2 })
    expect(broadening(mean, rate, 240)?.durationS).toBeCloseTo(1.6 / 240, 12)
    expect(broadening(mean, rate)).toBeNull()
    const products = {
      'one-pole': 0.349699,
      'bessel-2': 0.342068,
      'bessel-4': 0.35013,
      'butterworth-2': 0.341871,
      'butterworth-4': 0.38713,
    }
    for (const [shape, product] of Object.entries(products)) {
      const condition = { kind: 'low-pass', shape: shape as 'one-pole', cutoffHz: 500, phase: 'causal' } as const
      expect(Math.abs((broadening(condition, rate)?.durationS ?? 0) / (product / 500) - 1)).toBeLessThan(3e-3)
    }
  })

  it('of a low-pass is flagged where it bends the duration', () => {
    const condition = { kind: 'low-pass', shape: 'bessel-4', cutoffHz: 200, phase: 'zero' } as const
    const result = measure(record(firstOrder(ms)), { condition })
    expect(flagIds(result)).toContain('conditioning-bias')
    expect(valueOf(result, 'overshoot_pct')).toBeLessThan(1)
    const slow = measure(record(firstOrder(20 * ms), { post: 0.4 }), { condition: { ...condition, cutoffHz: 2000 } })
    expect(flagIds(slow)).not.toContain('conditioning-bias')
  })

  it('explains a duration no longer than its own wholly', () => {
    expect(durationBiasPct({ durationS: ms, meanS: 1.25 * ms, ringingPct: 0 }, 0.9 * ms, 0.1)).toBe(100)
    expect(durationBiasPct({ durationS: ms, meanS: null, ringingPct: 0 }, 0.9 * ms, 0.1)).toBe(100)
  })

  it.each<[RecipeInput['condition']]>([
    [{ kind: 'savitzky-golay', points: 11, order: 2 }],
    [{ kind: 'low-pass', shape: 'butterworth-2', cutoffHz: 2000, phase: 'causal' }],
    [{ kind: 'low-pass', shape: 'butterworth-4', cutoffHz: 2000, phase: 'zero' }],
  ])('a filter that rings is flagged and feeds no overshoot: %o', (condition) => {
    const result = measure(
      record((t) => (t < 0 ? 0 : 1)),
      { condition },
    )
    expect(flagIds(result)).toContain('ringing-filter')
    for (const id of ['overshoot_pct', 'undershoot_pct', 'overshoot_code'] as const) {
      expect(result.values[id]).toBeNull()
      expect(result.reasons[id]).toMatch(/itself overshoots/)
    }
  })

  it('a cut-off above half the rate is refused with the numbers', () => {
    const condition = { kind: 'low-pass', shape: 'one-pole', cutoffHz: 60_000, phase: 'zero' } as const
    expect(measure(record(firstOrder(ms)), { condition }).reasons.transition_duration_s).toMatch(/60000 Hz/)
  })
})

describe('strobed backlight', () => {
  const strobeRate = 200_000
  /** First-order response from 0.3 to 2 V behind one pulse of `width` per frame, the first `opens` after the step. */
  const strobed = (hz: number, width: number, opens: number, tau: number): Wave => {
    const gate = pulsed(hz, width * hz, 0, strobeRate)
    return (t) => (0.3 + 1.7 * firstOrder(tau)(t)) * gate(t - opens)
  }
  const recordStrobe = (wave: Wave, noise = 0) => record(wave, { rate: strobeRate, pre: 0.1, post: 0.2, noise })

  it.each([
    [1, 4, 1, 0.0115777],
    [2, 4, 1, 0.1065006],
    [2, 6, 1, 0.0391794],
  ])('τ %f ms, opening after %f ms for %f ms: crosstalk %f (closed form)', (tau, opens, width, expected) => {
    const result = measure(recordStrobe(strobed(120, width * ms, opens * ms, tau * ms)), {}, { refreshHz: 120 })
    expect(Math.abs(valueOf(result, 'first_pulse_crosstalk_pct') / (100 * expected) - 1)).toBeLessThan(1e-3)
    expect(Math.abs(valueOf(result, 'first_frame_completion_pct') - 100 * (1 - expected))).toBeLessThan(0.02)
  })

  it('crosstalk in noise is met within its uncertainty', () => {
    const result = measure(recordStrobe(strobed(120, ms, 4 * ms, 2 * ms), 0.01), {}, { refreshHz: 120 })
    const u = result.uncertainties.first_pulse_crosstalk_pct ?? 0
    expect(Math.abs(valueOf(result, 'first_pulse_crosstalk_pct') - 10.65006)).toBeLessThan(3 * u)
    expect(u).toBeLessThan(1)
  })

  it('a fall: bright pulses that scatter by where samples fall on their edges are not taken for its first', () => {
    const hz = 119.3
    const cycles = (t: number): number => (t - 4 * ms) * hz
    const lit = (t: number): number => (cycles(t) - Math.floor(cycles(t)) < 0.11 ? 1 : 0)
    const wave: Wave = (t) => (2 - 1.7 * firstOrder(2 * ms)(t)) * lit(t)
    const fall = record(wave, { rate: 20_000, pre: 0.1, post: 0.2 })
    const x = valueOf(measure(fall, {}, { refreshHz: hz }), 'first_pulse_crosstalk_pct')
    // Mean over the pulse of exp(−t/τ), as above; the scatter of single pulses is a few percent.
    const width = 0.11 / hz
    const expected = (100 * 2 * ms * Math.exp(-2) * (1 - Math.exp(-width / (2 * ms)))) / width
    expect(Math.abs(x - expected)).toBeLessThan(2)
  })

  it.each([60, 120, 240])('an instant panel behind pulses of 1 ms at %i Hz has a blur edge of 0.8 ms', (hz) => {
    const result = measure(recordStrobe(strobed(hz, ms, 2 * ms, 1e-6)), {}, { refreshHz: hz })
    expect(Math.abs(valueOf(result, 'blur_edge_s') / (0.8 * ms) - 1)).toBeLessThan(5e-3)
    expect(Math.abs(valueOf(result, 'extended_blur_edge_s') / ms - 1)).toBeLessThan(5e-3)
  })

  it('gives no times from a trace that is dark between pulses, with the reason', () => {
    const result = measure(recordStrobe(strobed(120, ms, 4 * ms, 2 * ms)), {}, { refreshHz: 120 })
    for (const id of ['transition_duration_s', 'arrival_s', 'settling_s', 'overshoot_pct', 'in_window'] as const) {
      expect(result.values[id]).toBeNull()
      expect(result.reasons[id]).toMatch(/strobes at 120\.0 Hz/)
    }
  })

  it('steady, rippled and fast pulsed backlights are no strobes', () => {
    for (const backlight of [sine(120, 0.3), pulsed(480, 0.5, 0, strobeRate)]) {
      const result = measure(
        record(under(backlight), { rate: strobeRate, pre: 0.1, post: 0.2 }),
        {},
        { refreshHz: 120 },
      )
      expect(result.values.first_pulse_crosstalk_pct).toBeNull()
    }
  })
})

it('volts of a trace are codes × scale + offset', () => {
  const { trace } = record((t) => 1 + firstOrder(ms)(t), { int16: true })
  const volts = traceVolts(trace)
  expect(volts).toHaveLength(trace.samples.length)
  expect(volts[0]).toBe((trace.samples[0] ?? 0) * trace.scaleV)
})
