import { describe, expect, it } from 'vitest'
import { poleOf, seenLight } from '#main/rig/simulated/optics/detector.ts'
import { addNoise, random } from '#main/rig/simulated/optics/noise.ts'
import { lightAt } from './panel-at.ts'
import { truthNumbers, truthOf, type TruthInput } from './truth.ts'

const STEP: TruthInput = { panel: 'plain', setting: 'Strong', refreshHz: 100, from: 51, to: 153 }

/** The waveform through one-pole filters by fine time steps: exponential Euler, exact for a light held over a step. */
function bySteps(input: TruthInput, poles: readonly number[], startS: number, stepS: number, count: number): number[] {
  const truth = truthOf(input)
  const parts = 400
  const h = stepS / parts
  const light = truth.waveform(startS + h / 2, h, count * parts)
  const states = poles.map(() => light[0] ?? 0)
  const out: number[] = []
  for (let i = 0; i < count * parts; i++) {
    if (i % parts === 0) out.push(states[states.length - 1] ?? 0)
    let input = light[i] ?? 0
    states.forEach((state, p) => {
      const next = input + (state - input) * Math.exp(-h / (poles[p] ?? 1))
      // The mean over the step is what the next stage is driven with.
      input = (state + next) / 2
      states[p] = next
    })
  }
  return out
}

describe('detector', () => {
  it('without poles is the light itself', () => {
    const truth = truthOf(STEP)
    const samples = truth.waveform(-0.01, 1e-4, 400)
    samples.forEach((value, i) => expect(value).toBeCloseTo(truth.light(-0.01 + i * 1e-4), 12))
  })

  it.each([
    ['steady', 'one pole', [poleOf(800)]],
    ['steady', 'two poles', [poleOf(800), poleOf(300)]],
    ['pwm', 'one pole', [poleOf(2000)]],
    ['pwm', 'two poles', [poleOf(2000), poleOf(500)]],
    ['strobe', 'one pole', [poleOf(2000)]],
  ] as const)('%s backlight through %s agrees with fine time steps', (backlight, _name, poles) => {
    const input = { ...STEP, backlight, pwmHz: 310 }
    const warm = 200
    const truth = truthOf(input)
    const zero = truth.display.segments[1]?.startS ?? 0
    const exact = seenLight(truth.display, poles, zero - 0.02, 1e-4, 500)
    const stepped = bySteps(input, poles, -0.02 - warm * 1e-4, 1e-4, 500 + warm).slice(warm)
    // An edge of the backlight lies anywhere within a fine step: half a step over the fastest pole, times its height.
    const limit = 1e-6 + (backlight === 'steady' ? 1e-4 : 0.125e-6 / Math.min(...poles))
    stepped.forEach((value, i) => expect(Math.abs((exact[i] ?? 0) - value)).toBeLessThan(limit))
  })

  it('stays finite when the detector is exactly as slow as the cell', () => {
    const truth = truthOf(STEP)
    const zero = truth.display.segments[1]?.startS ?? 0
    const tau = truth.display.segments[1]?.tau1 ?? 1
    const near = seenLight(truth.display, [tau * 1.001], zero, 1e-4, 300)
    const same = seenLight(truth.display, [tau], zero, 1e-4, 300)
    same.forEach((value, i) => expect(value).toBeCloseTo(near[i] ?? 0, 3))
  })

  it('gives the same samples however a record is cut', () => {
    const { display } = truthOf({ ...STEP, backlight: 'pwm', pwmHz: 977 })
    const whole = seenLight(display, [poleOf(50_000)], 0, 2e-5, 2000)
    for (const at of [1, 17, 900]) {
      const part = seenLight(display, [poleOf(50_000)], at * 2e-5, 2e-5, 500)
      part.forEach((value, i) => expect(value).toBeCloseTo(whole[at + i] ?? 0, 9))
    }
  })

  it('makes a 15,000-sample capture in milliseconds', () => {
    const { display } = truthOf(STEP)
    const run = (): void => {
      for (let i = 0; i < 20; i++) addNoise(seenLight(display, [poleOf(50_000)], 0, 2e-5, 15_000), 0.002, random(i))
    }
    run()
    const started = process.threadCpuUsage()
    run()
    const { user } = process.threadCpuUsage(started)
    expect(user / 1000 / 20).toBeLessThan(20)
  })
})

describe('noise', () => {
  it('is Gaussian in mean, spread and tails, and the same for the same seed', () => {
    const samples = new Float64Array(200_001)
    addNoise(samples, 2, random(5, 6))
    const again = new Float64Array(200_001)
    addNoise(again, 2, random(5, 6))
    expect(again).toEqual(samples)
    const mean = samples.reduce((a, b) => a + b, 0) / samples.length
    const sd = Math.sqrt(samples.reduce((a, b) => a + (b - mean) ** 2, 0) / samples.length)
    // Standard errors: 2 ÷ √200,001 = 0.0045 for the mean, 0.0032 for the spread; five of them.
    expect(Math.abs(mean)).toBeLessThan(0.0224)
    expect(Math.abs(sd - 2)).toBeLessThan(0.0158)
    // 4.55 % lie outside of two standard deviations; standard error 0.047 %.
    const outside = samples.filter((v) => Math.abs(v) > 4).length / samples.length
    expect(Math.abs(outside - 0.0455)).toBeLessThan(0.0024)
  })
})

describe('truth by bisection', () => {
  it('agrees with the closed form of two cascaded lags', () => {
    // Off is one segment: 1 − (τ₁·e^(−t/τ₁) − τ₂·e^(−t/τ₂)) ÷ (τ₁ − τ₂), solved here by counting on a fine grid.
    const truth = truthOf({ panel: 'swift', setting: 'Off', refreshHz: 60, from: 0, to: 255 })
    const segment = truth.display.segments[1]
    const t1 = segment?.tau1 ?? 1
    const t2 = segment?.tau2 ?? 1
    const done = (t: number): number => 1 - (t1 * Math.exp(-t / t1) - t2 * Math.exp(-t / t2)) / (t1 - t2)
    let above10 = 0
    let above90 = 0
    for (let t = 0; above90 === 0; t += 1e-7) {
      if (above10 === 0 && done(t) >= 0.1) above10 = t
      if (done(t) >= 0.9) above90 = t
    }
    expect(truthNumbers(truth).durationS).toBeCloseTo(above90 - above10, 6)
  })

  it('finds the overshoot that a dense look finds, and settling after arrival', () => {
    const truth = truthOf({ panel: 'plain', setting: 'Extreme', refreshHz: 100, from: 255, to: 128 })
    const numbers = truthNumbers(truth)
    const zero = truth.display.segments[1]?.startS ?? 0
    let extreme = truth.start
    for (let t = 0; t < 0.1; t += 1e-6) extreme = Math.min(extreme, lightAt(truth.display.segments, zero + t))
    expect(numbers.overshootPct).toBeCloseTo((100 * (extreme - truth.end)) / (truth.end - truth.start), 4)
    expect(numbers.overshootPct).toBeGreaterThan(5)
    expect(numbers.settledAtS).toBeGreaterThan(numbers.overshootAtS)
    expect(numbers.arrivalAtS).toBeLessThan(numbers.overshootAtS)
    expect(numbers.firstFramePct).toBeGreaterThan(90)
  })
})
