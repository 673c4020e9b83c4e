/** Detectors on signals whose answer is known in closed form. Times in samples, levels in V; all data is invented. */
import { NO_NOISE, rawNoise, type NoiseModel } from '#shared/measure/noise-model.ts'
import { describe, expect, it } from 'vitest'
import { longestChance, noiseInSteps } from '#shared/measure/flags/equal-samples.ts'
import { fitLine } from '#shared/measure/flags/line-component.ts'
import { findPause, findPulsePause } from '#shared/measure/flags/pause.ts'
import type { Pulses } from '#shared/measure/pulses.ts'
import { findRepeatedBlock } from '#shared/measure/flags/repeated-block.ts'
import { findTail } from '#shared/measure/tail.ts'
import { findTimeJump } from '#shared/measure/flags/time-jump.ts'
import { seriesOf, type Series } from '#shared/signal/series.ts'
import { gaussian, secondOrder } from '../waves.ts'

const series = (n: number, y: (k: number) => number, sigma = 0, seed = 1): Series => {
  const next = gaussian(seed)
  return seriesOf(Float64Array.from({ length: n }, (_, k) => y(k) + (sigma > 0 ? sigma * next() : 0)))
}
const quiet = NO_NOISE
const noisy = (sigmaV: number): NoiseModel => rawNoise(sigmaV ** 2, [], 1000)
const rise = (k: number, tau: number): number => (k <= 0 ? 0 : 1 - Math.exp(-k / tau))

describe('equal samples', () => {
  it('one digitizer step of noise stays in its code with erf(1/(2√2)) = 0.382925: 25 in a row of 15,000', () => {
    expect(longestChance(1, 15_000, 1e-6)).toBe(Math.ceil(Math.log(1e-6 / 15_000) / Math.log(0.3829249)))
  })
  it('says nothing with little noise', () => {
    expect(longestChance(0.5, 15_000, 1e-6)).toBeNull()
  })
  it('noise before rounding: the twelfth is taken off, a signal that moves is told by its equal neighbours', () => {
    expect(noiseInSteps(1, 0)).toBeCloseTo(0.93 * Math.sqrt(11 / 12), 12)
    expect(noiseInSteps(40, 0.2)).toBeCloseTo(0.93 / (0.4 * Math.sqrt(Math.PI)), 12)
  })
})

describe('repeated block', () => {
  const next = gaussian(5)
  const noise = Int16Array.from({ length: 6000 }, () => Math.round(3 * next()))
  it('is found where a block is delivered twice', () => {
    const twice = Int16Array.from(noise)
    twice.copyWithin(3080, 3000, 5900)
    expect(findRepeatedBlock(twice, 0, twice.length, 30)).toEqual({ first: 3000, at: 3080, length: 80 })
  })
  it('is found in decimal volts as well, counted in the whole record', () => {
    const volts = Float32Array.from(noise, (code) => code / 1000)
    volts.copyWithin(4260, 4060, 4260)
    volts[4059] = 1
    volts[4260 + 200] = 1
    expect(findRepeatedBlock(volts, 500, 6000, 30)).toEqual({ first: 4060, at: 4260, length: 200 })
  })
  it('is found wherever it lies and whatever the distance from its copy', () => {
    let longest = 0
    for (let distance = 90; distance < 90 + 61; distance++) {
      for (const first of [0, 511, 2222 + distance, 5700 - 2 * distance]) {
        const twice = Int16Array.from(noise)
        twice.copyWithin(first + distance, first, first + 90)
        const found = findRepeatedBlock(twice, 0, twice.length, 30)
        // The samples beside it may happen to be alike as well.
        expect(found?.first ?? -1, `${distance} samples on from ${first}`).toBeLessThanOrEqual(first)
        expect((found?.at ?? 0) - (found?.first ?? 0)).toBe(distance)
        expect(found?.length).toBeGreaterThanOrEqual(90)
        longest = Math.max(longest, found?.length ?? 0)
      }
    }
    expect(longest).toBeLessThan(96)
  })
  it('is not found in noise, nor in a constant', () => {
    expect(findRepeatedBlock(noise, 0, noise.length, 30)).toBeNull()
    expect(findRepeatedBlock(new Int16Array(5000).fill(7), 0, 5000, 30)).toBeNull()
  })
})

describe('time jump', () => {
  const tau = 200
  it('of 40 samples in a first-order rise is the light of those 40 samples', () => {
    const cut = series(2000, (k) => rise((k < 1100 ? k : k + 40) - 1000, tau))
    const jump = findTimeJump(cut, 900, 1900, 0, 1, 1e-3)
    expect(jump?.at).toBe(1099)
    expect(jump?.jumpV).toBeCloseTo(rise(140, tau) - rise(99, tau), 12)
  })
  it('is none in the whole rise, in noise, or in a single spike', () => {
    expect(
      findTimeJump(
        series(2000, (k) => rise(k - 1000, tau)),
        900,
        1900,
        0,
        1,
        1e-3,
      ),
    ).toBeNull()
    expect(
      findTimeJump(
        series(2000, (k) => rise(k - 1000, tau), 0.01),
        900,
        1900,
        0.01,
        1,
        1e-3,
      ),
    ).toBeNull()
    expect(
      findTimeJump(
        series(2000, (k) => rise(k - 1000, tau) + (k === 1200 ? 0.5 : 0)),
        900,
        1900,
        0,
        1,
        1e-3,
      ),
    ).toBeNull()
  })
})

describe('pause', () => {
  const tau = 100
  // Half of the way, then 600 samples later the rest.
  const twice = (k: number): number => 0.5 * (rise(k - 1000, tau) + rise(k - 1600, tau))
  it('between two halves of a step is at the half, and slow by the tail of the first: e^(−6)', () => {
    const pause = findPause(series(4000, twice), quiet, 1022, 830, 0, 1, 0)
    expect(pause?.donePct).toBeGreaterThan(49)
    expect(pause?.donePct).toBeLessThan(51)
    expect(pause?.slowPct).toBeLessThan(2)
    expect(pause?.first).toBeGreaterThan(950)
    expect(pause?.last).toBeLessThan(1750)
  })
  it('falls are rises upside down', () => {
    const fall = findPause(
      series(4000, (k) => 3 - twice(k)),
      quiet,
      1022,
      830,
      3,
      -1,
      0,
    )
    expect(fall?.donePct).toBeCloseTo(findPause(series(4000, twice), quiet, 1022, 830, 0, 1, 0)?.donePct ?? 0, 6)
  })
  it('after an overshoot that came back short is found', () => {
    const back = (k: number): number => 1.2 * rise(k - 1000, 40) - 0.7 * rise(k - 1200, 60) + 0.5 * rise(k - 1900, 40)
    expect(findPause(series(4000, back), quiet, 1004, 60, 0, 1, 0)).not.toBeNull()
  })
  it('is none in one response, with overshoot, or where noise could make it', () => {
    expect(
      findPause(
        series(4000, (k) => rise(k - 1000, tau)),
        quiet,
        1010,
        220,
        0,
        1,
        0,
      ),
    ).toBeNull()
    const over = (k: number): number => 1.3 * rise(k - 1000, 50) - 0.3 * rise(k - 1150, 80)
    expect(findPause(series(4000, over), quiet, 1005, 90, 0, 1, 0)).toBeNull()
    for (let seed = 1; seed <= 200; seed++) {
      const trace = series(4000, (k) => rise(k - 1000, tau), 0.05, seed)
      expect(findPause(trace, noisy(0.05), 1010, 220, 0, 1, 0), String(seed)).toBeNull()
    }
  })
  it('is none in a response that rings, however little it is damped', () => {
    for (const zeta of [0.05, 0.1, 0.15, 0.2, 0.3])
      for (const sigma of [0, 0.002, 0.01]) {
        const ringing = series(6000, (k) => secondOrder(zeta, 0.01)(k - 1000), sigma)
        expect(findPause(ringing, noisy(sigma), 1046, 150, 0, 1, 0), `damping ${zeta}, σ ${sigma}`).toBeNull()
      }
  })
  it('of pulses: two lobes of changes, not one', () => {
    const pulses = (...done: number[]): Pulses => ({
      frequency: 0.01,
      width: 10,
      energies: Float64Array.from(done),
      starts: Float64Array.from(done, (_, k) => 100 * k),
      before: 0,
      after: 1,
      first: 3,
      beforeCount: 3,
      crosstalkPct: null,
      uCrosstalkPct: 0,
    })
    expect(findPulsePause(pulses(0, 0, 0, 0.45, 0.5, 0.5, 0.9, 1, 1, 1), 0)?.donePct).toBe(50)
    expect(findPulsePause(pulses(0, 0, 0, 0.6, 0.9, 0.97, 1, 1, 1, 1), 0)).toBeNull()
    // A slow panel needs several pulses for either part.
    const slow = pulses(0, 0, 0, 0.13, 0.23, 0.3, 0.35, 0.42, 0.63, 0.78, 0.88, 0.95, 1, 1, 1, 1)
    expect(findPulsePause(slow, 0)?.donePct).toBeCloseTo(35, 6)
    // Noise of 5 % of the step explains that.
    expect(findPulsePause(slow, 0.05)).toBeNull()
  })
})

describe('tail', () => {
  const options = { period: 0, rippleV: 0, margin: 0 }
  it('leads where the exponential leads', () => {
    const wave = series(1350, (k) => rise(k - 1000, 100))
    const tail = findTail(wave, quiet, 1069, 219.7, options, 3)
    expect(Math.abs((tail?.finalV ?? 0) - 1)).toBeLessThan(2e-4)
    expect(Math.abs((tail?.tau ?? 0) - 100)).toBeLessThan(0.5)
  })
  it('of a settled plateau is none', () => {
    const wave = series(9000, (k) => rise(k - 1000, 100), 0.01)
    expect(findTail(wave, noisy(0.01), 1069, 219.7, options, 3.3)).toBeNull()
  })
  it('may be as slow as the dwell is long: 85 % in 2 ms, 15 % in 200 ms, 250 ms seen', () => {
    let inside = 0
    for (let seed = 1; seed <= 60; seed++) {
      const wave = series(15_000, (k) => 0.85 * rise(k - 2500, 100) + 0.15 * rise(k - 2500, 10_000), 0.0025, seed)
      const tail = findTail(wave, noisy(0.0025), 2570, 300, options, 3.3)
      expect(Math.abs((tail?.finalV ?? 0) - 1), `seed ${seed}`).toBeLessThan(0.02)
      if (tail && tail.nearV <= 1 && (tail.farV ?? Infinity) >= 1) inside++
    }
    // 95 % expected; 50 or fewer of 60 in one run of a thousand.
    expect(inside).toBeGreaterThan(50)
  })
  it('that is a straight line as far as the record tells has no upper bound', () => {
    const wave = series(9000, (k) => rise(k - 1000, 60) + 0.1 * rise(k - 1000, 80_000), 0.001)
    const tail = findTail(wave, noisy(0.001), 1042, 132, options, 3.3)
    expect(tail?.isLine).toBe(true)
    expect(tail?.farV).toBeNull()
    expect(tail?.nearV ?? 0).toBeGreaterThan(1.009)
    expect(tail?.nearV ?? 9).toBeLessThan(1.1)
  })
})

describe('line component', () => {
  const frequency = 1 / 937
  const wave = (k: number): number => 1 + 2e-5 * k + 0.03 * Math.cos(2 * Math.PI * frequency * k + 0.7)
  it('has the size and phase of the sine beside a drift', () => {
    const fit = fitLine(series(9000, wave), [500, 8000], frequency)
    expect(fit?.amplitude).toBeCloseTo(0.03, 6)
    expect(Math.atan2(-(fit?.im ?? 0), fit?.re ?? 0)).toBeCloseTo(0.7, 4)
  })
  it('is not read from less than one and a half periods', () => {
    expect(fitLine(series(9000, wave), [0, 1400], frequency)).toBeNull()
  })
})
