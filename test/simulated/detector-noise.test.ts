/** Noise of the simulated detector against textbook formulas: noise bandwidths, autocorrelations, densities. */
import { describe, expect, it } from 'vitest'
import { addFlicker, addWhite, whiteDensity } from '#main/rig/simulated/optics/detector-noise.ts'
import { poleOf } from '#main/rig/simulated/optics/detector.ts'
import { random } from '#main/rig/simulated/optics/noise.ts'

const RATE = 50_000
const N = 400_000

function autocovariance(values: Float64Array, lag: number): number {
  let sum = 0
  for (let i = 0; i + lag < values.length; i++) sum += (values[i] as number) * (values[i + lag] as number)
  return sum / (values.length - lag)
}

/** Mean one-sided density of half-overlapping Hann windows at a frequency, per Hz (Welch). */
function densityAt(values: Float64Array, length: number, bin: number): number {
  let sum = 0
  let count = 0
  for (let from = 0; from + length <= values.length; from += length / 2) {
    let re = 0
    let im = 0
    for (let i = 0; i < length; i++) {
      const w = Math.sin((Math.PI * (i + 0.5)) / length) ** 2
      re += w * (values[from + i] as number) * Math.cos((2 * Math.PI * bin * i) / length)
      im += w * (values[from + i] as number) * Math.sin((2 * Math.PI * bin * i) / length)
    }
    sum += re * re + im * im
    count++
  }
  // The window's squares add up to 3/8 of its length.
  return (2 * sum) / count / (RATE * length * 0.375)
}

describe('noise in front of the bandwidth', () => {
  it.each([
    ['1 kHz', [1000]],
    ['3 kHz', [3000]],
    ['50 kHz, more than the sampling resolves', [50_000]],
    ['3 kHz and 1 kHz', [3000, 1000]],
    ['two equal poles of 2 kHz', [2000, 2000]],
  ] as const)('white noise through %s has the textbook variance and memory', (_name, corners) => {
    const density = { thermal: 4e-12, shotAtWhite: 0 }
    const samples = new Float64Array(N)
    addWhite(samples, () => 0, density, corners.map(poleOf), 1 / RATE, random(3, 4))
    const [fa, fb] = corners
    // Noise bandwidth: (π/2)·f of one pole, (π/2)·fa·fb/(fa + fb) of two (any text on noise; from memory).
    const variance = density.thermal * (Math.PI / 2) * (fb === undefined ? fa : (fa * fb) / (fa + fb))
    const rho = (lag: number): number => {
      const t = lag / RATE
      const a = 2 * Math.PI * fa
      if (fb === undefined) return Math.exp(-a * t)
      const b = 2 * Math.PI * fb
      return a === b ? (1 + a * t) * Math.exp(-a * t) : (b * Math.exp(-a * t) - a * Math.exp(-b * t)) / (b - a)
    }
    // Relative standard error of a variance: √(2·Σρ²/N) over all lags; five of them, and the same for the others.
    let memory = 1
    for (let lag = 1; lag < 500; lag++) memory += 2 * rho(lag) ** 2
    const error = 5 * Math.sqrt((2 * memory) / N)
    for (const lag of [0, 1, 3, 10, 30])
      expect(Math.abs(autocovariance(samples, lag) / variance - rho(lag)), `lag ${lag}`).toBeLessThan(error)
  })

  it('shot noise follows the light, thermal noise does not', () => {
    // 1 µA over 4 V: √(2qI)·R = 2.264 µV/√Hz, √(4kTR) = 0.2574 µV/√Hz at 300 K, by hand.
    const { thermal, shotAtWhite } = whiteDensity(1e-6, 4)
    expect(Math.sqrt(shotAtWhite) * 1e6).toBeCloseTo(2.2642, 3)
    expect(Math.sqrt(thermal) * 1e6).toBeCloseTo(0.2574, 3)
    expect(whiteDensity(0, 4)).toEqual({ thermal: 0, shotAtWhite: 0 })
    const samples = new Float64Array(N)
    addWhite(
      samples,
      (i) => (i < N / 2 ? 0.25 : 1),
      { thermal: 0, shotAtWhite: 1 },
      [poleOf(20_000)],
      1 / RATE,
      random(9),
    )
    const ratio = autocovariance(samples.subarray(N / 2), 0) / autocovariance(samples.subarray(0, N / 2), 0)
    expect(Math.abs(ratio / 4 - 1)).toBeLessThan(0.05)
  })

  it('1/f noise has the density it says over three decades, and passes the poles', () => {
    const plain = new Float64Array(4 * N)
    addFlicker(plain, 1e-6, [], 1 / RATE, random(5))
    // Bins 4 and 16 of 16,384 and 4 and 40 of 2,048 samples: 12 to 977 Hz; the relaxations end near 800 Hz.
    for (const [length, bin] of [
      [16_384, 4],
      [16_384, 16],
      [2048, 4],
      [2048, 16],
    ] as const) {
      const hz = (bin * RATE) / length
      expect(Math.abs((densityAt(plain, length, bin) * hz) / 1e-6 - 1), `${hz} Hz`).toBeLessThan(0.25)
    }
    const slow = new Float64Array(N)
    const through = new Float64Array(N)
    addFlicker(slow, 1e-6, [], 1 / RATE, random(6))
    addFlicker(through, 1e-6, [poleOf(100)], 1 / RATE, random(6))
    const step = (values: Float64Array): number => autocovariance(values, 0) - autocovariance(values, 5)
    expect(step(through)).toBeLessThan(0.2 * step(slow))
  })

  it('is the same for the same seed, and silent where there is nothing', () => {
    const make = (seed: number): Float64Array => {
      const samples = new Float64Array(100)
      addWhite(samples, () => 1, whiteDensity(1e-6, 4), [poleOf(50_000)], 1 / RATE, random(seed))
      addFlicker(samples, 1e-9, [poleOf(50_000)], 1 / RATE, random(seed))
      return samples
    }
    expect(make(1)).toEqual(make(1))
    expect(make(1)).not.toEqual(make(2))
    const none = new Float64Array(100)
    addWhite(none, () => 1, whiteDensity(0, 4), [poleOf(50_000)], 1 / RATE, random(1))
    addFlicker(none, 0, [], 1 / RATE, random(1))
    expect(none.every((value) => value === 0)).toBe(true)
  })
})
