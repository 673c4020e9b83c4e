/** Flags of whole captures with a defect of known size. All data is invented. */
import { describe, expect, it } from 'vitest'
import type { Result } from '#shared/domain/result.ts'
import { groupFlags, type GroupRow } from '#shared/measure/group-flags.ts'
import { firstOrder, flagIds, flagOf, inputOf, ladderOf, measure, record, type Trace, type Wave } from '../waves.ts'

const ms = 1e-3
const clean: Wave = (t) => 1 + 2 * firstOrder(ms)(t)
const light = (level: number): number => (level === 0 ? 0.01 : level === 51 ? 1 : 3)
const ladder = ladderOf([0, 51, 102], { white: 1, light })

describe('defects of one capture', () => {
  it('clipped: the top code of a converter of 12 bits inside 16', () => {
    const trace = record((t) => Math.min(4.9, 6 * firstOrder(ms)(t)), { int16: true, noise: 0.004 })
    const samples = Int16Array.from(trace.trace.samples, (code) => Math.min(32752, Math.round((code * 1.1) / 16) * 16))
    expect(flagOf(measure({ ...trace, trace: { ...trace.trace, samples } }), 'clipped').value).toBeGreaterThan(1000)
  })

  it('drift: 6 % of the step evenly through the record, both ways; a slow tail is none', () => {
    for (const sign of [-1, 1]) {
      const drifting: Wave = (t) => clean(t) + sign * 1.2 * t
      const flag = flagOf(measure(record(drifting, { noise: 0.004 })), 'plateau-drift')
      expect(Math.abs((flag.value ?? 0) - 6)).toBeLessThan(0.5)
    }
    const creeping: Wave = (t) => 1 + 2 * firstOrder(14 * ms)(t)
    expect(flagIds(measure(record(creeping, { noise: 0.004, post: 0.12 })))).not.toContain('plateau-drift')
  })

  it('drift of a step that is little more than noise is drift, not a tail that goes on', () => {
    const drifting: Wave = (t) => 1 + 0.02 * firstOrder(ms)(t) + 0.025 * t
    const ids = flagIds(measure(record(drifting, { noise: 0.004 })))
    expect(ids).toContain('plateau-drift')
    expect(ids).not.toContain('plateau-not-reached')
  })

  it('double step: half now, half 8 ms later', () => {
    const twice: Wave = (t) => 1 + firstOrder(ms)(t) + firstOrder(ms)(t - 8 * ms)
    const flag = flagOf(measure(record(twice, { noise: 0.004 })), 'double-step')
    expect(flag.evidence).toMatch(/came in two steps/)
    expect(flag.value ?? 99).toBeLessThan(10)
  })

  it('double step of which the first lies in the level window, or before the record', () => {
    const rest = { from: 51, to: 102, ladder }
    const tau = 6 * ms
    for (const earlier of [45 * ms, 60 * ms]) {
      const twice: Wave = (t) => 1 + 0.8 * firstOrder(tau)(t + earlier) + 1.2 * firstOrder(tau)(t)
      const capture = measure(record(twice, { pre: 0.05, post: 0.15, noise: 0.002 }), {}, rest)
      expect(flagIds(capture), String(earlier)).toContain('double-step')
      expect(flagIds(capture)).not.toContain('plateau-drift')
      expect(flagIds(capture)).not.toContain('ladder-disagrees')
    }
    // Of which hardly more is seen than that the record begins on the way and moves on.
    const before: Wave = (t) => 1 + 0.8 * firstOrder(tau)(t + 66 * ms) + 1.2 * firstOrder(tau)(t)
    const flag = flagOf(measure(record(before, { pre: 0.05, post: 0.15, noise: 0.04 }), {}, rest), 'double-step')
    expect(flag.evidence).toMatch(/begins 3\d % of the way .* the first of them before the record/)
    expect(flag.span?.[0]).toBe(0)
    // At rest on the way it was another level, and a record that begins within one single step has not paused.
    const other: Wave = (t) => 1.8 + 1.2 * firstOrder(tau)(t)
    const ids = flagIds(measure(record(other, { pre: 0.05, post: 0.15, noise: 0.002 }), {}, rest))
    expect(ids).toContain('ladder-disagrees')
    expect(ids).not.toContain('double-step')
    const late: Wave = (t) => 1 + 2 * firstOrder(tau)(t + 0.054)
    expect(flagIds(measure(record(late, { pre: 0.05, post: 0.15, noise: 0.002 }), {}, rest))).not.toContain(
      'double-step',
    )
  })

  it('double step: a slow ripple too small to matter does not hide the pause', () => {
    const hum: Wave = (t) => 0.003 * Math.sin(2 * Math.PI * 50 * t)
    const twice: Wave = (t) => 1 + firstOrder(ms)(t) + firstOrder(ms)(t - 8 * ms) + hum(t)
    expect(flagIds(measure(record(twice, { pre: 0.05, post: 0.15, noise: 0.001 })))).toContain('double-step')
  })

  it('short dwell: a boosted level that is coming back is not excused by moving', () => {
    const back: Wave = (t) => 1 + 2.3 * firstOrder(ms)(t) - 0.6 * firstOrder(3 * ms)(t - 16 * ms)
    const capture = measure(
      record(back, { post: 0.019, noise: 0.004 }),
      {},
      { from: 51, to: 102, ladder, refreshHz: 60 },
    )
    expect(flagIds(capture)).toContain('plateau-not-reached')
  })

  it('saturation: the brighter level reads low, the darker one does not', () => {
    const capture = (bright: number, dark = 1): Trace =>
      record((t) => dark + (bright - dark) * firstOrder(ms)(t), { noise: 0.004 })
    const rest = { from: 51, to: 102, ladder }
    const flag = flagOf(measure(capture(2.7), {}, rest), 'saturation')
    expect(Math.abs((flag.value ?? 0) - 10)).toBeLessThan(0.2)
    // A dimmed lamp takes the same share of both; another level in its place reads as that level.
    expect(flagIds(measure(capture(2.7, 0.9), {}, rest))).not.toContain('saturation')
    const four = ladderOf([0, 51, 77, 102], { white: 1, light: (level) => (level === 77 ? 2.2 : light(level)) })
    const other = flagIds(measure(capture(2.2), {}, { ...rest, ladder: four }))
    expect(other).toContain('ladder-disagrees')
    expect(other).not.toContain('saturation')
  })

  it('missing samples: the phase of a backlight jumps', () => {
    const hz = 480
    const lit = (cut: number): Trace =>
      record((t) => clean(t) * (1 + 0.3 * Math.sin(2 * Math.PI * hz * (t + (t > 0.05 ? cut : 0)))), {
        rate: 50_000,
        pre: 0.05,
        post: 0.15,
        noise: 0.004,
      })
    const flag = flagOf(measure(lit(0.2 / hz)), 'missing-samples')
    expect(Math.abs((flag.value ?? 0) - 0.2)).toBeLessThan(0.02)
    expect(flag.span?.[0]).toBeLessThan(5000)
    expect(flag.span?.[1]).toBeGreaterThan(5000)
    expect(flagIds(measure(lit(0)))).not.toContain('missing-samples')
  })

  it('short dwell: two refresh periods after the edge the level is not the ladder’s', () => {
    const boosted: Wave = (t) => 1 + 2.3 * firstOrder(ms)(t)
    const short = record(boosted, { post: 0.016, noise: 0.004 })
    expect(flagIds(measure(short, {}, { refreshHz: 60, from: 51, to: 102, ladder }))).toContain('plateau-not-reached')
  })
})

describe('pulses of a strobe', () => {
  const strobed = (pre: number): Result => {
    const period = 1 / 100
    const wave: Wave = (t) => {
      const phase = (((t / period) % 1) + 1) % 1
      return (1 + 2 * firstOrder(2 * ms)(t)) * (phase > 0.6 && phase < 0.75 ? 1 : 0)
    }
    return measure(record(wave, { rate: 40_000, pre, post: 0.2 }), {}, { refreshHz: 100 })
  }
  it('say nothing of crosstalk with two of them before the step', () => {
    const result = strobed(0.03)
    expect(result.values.first_pulse_crosstalk_pct).toBeNull()
    expect(result.reasons.first_pulse_crosstalk_pct).toMatch(/3 are needed/)
    expect(result.values.first_frame_completion_pct).toBeNull()
  })
  it('give it with enough of them', () => {
    expect(strobed(0.08).values.first_pulse_crosstalk_pct).not.toBeNull()
  })
})

describe('late edges', () => {
  const base = measure(record(clean, { noise: 0.002 }), {}, { refreshHz: 60 })
  const row = (id: number, lowS: number, midS: number): GroupRow => ({
    info: { id, from: 51, to: 102 },
    values: { ...base.values, transition_duration_s: null },
    edgeS: [lowS, midS],
    sinceTriggerS: 0.06,
    frameS: 1 / 120,
  })
  const sound = [0, 0.3, -0.4, 0.2, -0.1].map((late, k) => row(k + 1, 0.061 + late * ms, 0.063 + late * ms))
  it('by one frame are flagged, with how late', () => {
    const found = groupFlags([...sound, row(9, 0.061 + 1 / 120, 0.063 + 1 / 120)])
    expect(found.map(({ captureId, flag }) => [captureId, flag.id])).toEqual([[9, 'edge-out-of-frame']])
    expect(Math.abs((found[0]?.flag.value ?? 0) - 1 / 120)).toBeLessThan(0.2 * ms)
  })
  it('are not those of a slower transition, nor those without a time of the stimulus', () => {
    expect(groupFlags([...sound, row(9, 0.0615, 0.063 + 1 / 120)])).toEqual([])
    expect(groupFlags([...sound, { ...row(9, 0.08, 0.09), sinceTriggerS: null }])).toEqual([])
  })
})

it('a step at the trigger of other levels is no late edge', () => {
  const shown: Wave = (t) => 0.01 + 2.99 * firstOrder(12 * ms)(t)
  const trace = record(shown, { noise: 0.004, post: 0.2 })
  const input = inputOf(trace, {}, { refreshHz: 240, from: 0, to: 51, ladder })
  expect(flagIds(measure(trace, {}, { ...input, refreshHz: 240 }))).not.toContain('edge-out-of-frame')
})
