import { describe, expect, it } from 'vitest'
import type { RawTrace } from '#shared/domain/capture.ts'
import { DEFAULT_PLAN, sweepPlanSchema } from '#shared/domain/plan.ts'
import type { PreflightId } from '#shared/domain/preflight.ts'
import { DEFAULT_RECIPE } from '#shared/domain/recipe.ts'
import { preflight, readLevel, type PreflightInput } from '#shared/measure/preflight.ts'
import { seededRandom } from '#shared/domain/seeded-random.ts'

const RATE = 50_000
const RANGE = 5
const LSB = RANGE / 32_768

/** 0.2 s of light at 16 bits; noise is rectangular, so its standard deviation is its width ÷ √12. */
function light(volts: (t: number) => number, noiseWidthV = 0): RawTrace {
  const random = seededRandom(7)
  const samples = Int16Array.from({ length: 0.2 * RATE }, (_, i) =>
    Math.max(-32_768, Math.min(32_767, Math.round((volts(i / RATE) + noiseWidthV * (random() - 0.5)) / LSB))),
  )
  return { format: 'int16', samples, sampleRateHz: RATE, scaleV: LSB, offsetV: 0, rangeV: RANGE }
}
const steady = (v: number, noise = 0.002) => light(() => v, noise)
const plan = sweepPlanSchema.parse({ ...DEFAULT_PLAN, levels: [0, 64, 255], refreshHz: 60, rangeV: RANGE })

const GOOD: PreflightInput = {
  plan,
  recipe: { ...DEFAULT_RECIPE, detectorS: 8e-6 },
  darkest: readLevel(0, steady(0.01)),
  next: readLevel(64, steady(0.2)),
  white: readLevel(255, steady(3.5)),
  measuredHz: 60.01,
  earlier: { meanV: 3.49, agoS: 1500 },
  estimatedS: 75,
}
const line = (change: Partial<PreflightInput>, id: PreflightId) =>
  preflight({ ...GOOD, ...change }).find((one) => one.id === id)

describe('a level at rest', () => {
  it('gives its mean, and its noise by neighbours: the closed form of a rectangular distribution', () => {
    const read = readLevel(128, steady(2, 0.02))
    // σ of the mean is 0.02 V ÷ √12 ÷ √10,000 = 58 µV; five of them.
    expect(Math.abs(read.meanV - 2)).toBeLessThan(0.00029)
    expect(read.noiseV).toBeCloseTo(0.02 / Math.sqrt(12), 4)
    expect(read.lsbV).toBe(LSB)
    expect(read.ripple).toBeNull()
  })

  it('finds a sine’s frequency and percent flicker, which hardly enter the noise', () => {
    const read = readLevel(
      255,
      light((t) => 2 * (1 + 0.1 * Math.sin(2 * Math.PI * 240 * t)), 0.002),
    )
    expect(read.ripple?.hz).toBeCloseTo(240, 0)
    // (max − min) ÷ (max + min) of 1 ± 0.1.
    expect(read.ripple?.percentFlicker).toBeCloseTo(10, 0)
    expect(read.noiseV).toBeLessThan(0.005)
  })
})

describe('the list before the start', () => {
  it('is right from top to bottom when nothing stands against it, in one order', () => {
    const lines = preflight(GOOD)
    expect(lines.map(({ id, verdict }) => `${id} ${verdict}`)).toEqual([
      'range right',
      'dark right',
      'ripple right',
      'noise right',
      'refresh right',
      'detector right',
      'drift right',
      'time right',
    ])
    expect(lines.every(({ remedy }) => remedy === '')).toBe(true)
    expect(line({}, 'range')?.found).toBe('White is 3.500 V, 70 % of 5 V.')
    expect(line({}, 'time')?.found).toBe('About 1 min 15 s.')
    expect(line({}, 'ripple')?.found).toBe('Under 1 % at white.')
    // A step of mV, the noise beside it and the converter’s step each with its unit.
    expect(line({}, 'noise')?.found).toMatch(
      /^0 → \d+ is [\d.]+ m?V: \d+(\.\d)? × the noise \([\d.]+ mV\), \d+(\.\d)? × the digitizer’s step \(0\.\d{3,4} mV\)\.$/,
    )
  })

  it.each<[string, PreflightId, Partial<PreflightInput>, 'doubtful' | 'wrong', RegExp]>([
    ['white near the end', 'range', { white: readLevel(255, steady(4.3)) }, 'doubtful', /cut off/],
    ['white clipped', 'range', { white: readLevel(255, steady(5.2)) }, 'wrong', /larger range/],
    ['little light', 'range', { white: readLevel(255, steady(0.6)) }, 'doubtful', /few codes/],
    ['no light at all', 'range', { white: readLevel(255, steady(0.0102)) }, 'wrong', /point the sensor/],
    ['stray light', 'dark', { darkest: readLevel(0, steady(0.3)) }, 'doubtful', /Darken the room/],
    ['a step in the noise', 'noise', { next: readLevel(64, steady(0.011)) }, 'wrong', /more light/],
    ['a small step', 'noise', { next: readLevel(64, steady(0.018)) }, 'doubtful', /flagged/],
    ['another refresh', 'refresh', { measuredHz: 59.4 }, 'wrong', /refresh rate/],
    ['no refresh', 'refresh', { measuredHz: null }, 'doubtful', /open/],
    ['no detector', 'detector', { recipe: DEFAULT_RECIPE }, 'doubtful', /10–90 %/],
    ['a cold display', 'drift', { earlier: { meanV: 3.3, agoS: 900 } }, 'doubtful', /warming up/],
    ['a short look', 'drift', { earlier: { meanV: 3.5, agoS: 60 } }, 'doubtful', /Too short/],
    ['a first look', 'drift', { earlier: null }, 'doubtful', /warm up/],
  ])('says %s', (_, id, change, verdict, remedy) => {
    expect(line(change, id)).toMatchObject({ verdict, remedy: expect.stringMatching(remedy) as unknown })
  })

  it('says what the recipe does about ripple, and that pulses need another measure', () => {
    const rippling = readLevel(
      255,
      light((t) => 3 * (1 + 0.2 * Math.sin(2 * Math.PI * 240 * t)), 0.002),
    )
    expect(line({ white: rippling }, 'ripple')).toMatchObject({ verdict: 'doubtful' })
    const averaging = { ...GOOD.recipe, condition: { kind: 'one-period-mean', frequencyHz: null, periods: 1 } as const }
    expect(line({ white: rippling, recipe: averaging }, 'ripple')).toMatchObject({
      verdict: 'right',
      found: expect.stringMatching(/^20 % at 240(\.\d+)? Hz; the recipe takes means over whole periods\.$/) as unknown,
    })
    const pulsed = readLevel(
      255,
      light((t) => ((t * 60) % 1 < 0.2 ? 3.5 : 0.01)),
    )
    expect(line({ white: pulsed, recipe: averaging }, 'ripple')?.remedy).toMatch(/pulsed with the refresh/)
  })
})
