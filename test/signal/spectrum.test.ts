/** Spectra against their definitions, written out plainly. */
import { describe, expect, it } from 'vitest'
import { realPlan, realPower } from '#shared/signal/real-power.ts'
import { seriesOf, type Series } from '#shared/signal/series.ts'
import { peakAt, SPECTRUM_BINS, windowSpectrum } from '#shared/signal/spectrum.ts'

const uneven = (k: number): number => Math.sin(k * k + 1)

/** Amplitude of the Hann-weighted window about its mean at one frequency (cycles per sample). */
function amplitudeAt({ v }: Series, first: number, end: number, frequency: number): number {
  const n = end - first
  let re = 0
  let im = 0
  for (let k = 0; k < n; k++) {
    const weighted = v[first + k]! * (0.5 - 0.5 * Math.cos((2 * Math.PI * (k + 0.5)) / n))
    re += weighted * Math.cos(2 * Math.PI * frequency * k)
    im -= weighted * Math.sin(2 * Math.PI * frequency * k)
  }
  return (4 / n) * Math.hypot(re, im)
}

describe('power of real values', () => {
  it('is the squared magnitude of the sum that defines the transform', () => {
    for (const size of [16, 32, 64, 128, 512, 1024]) {
      const values = Float64Array.from({ length: size }, (_, k) => uneven(k) + 0.3)
      const plan = realPlan(size)
      const out = new Float64Array(size / 2 + 1)
      // Twice: nothing of the first is left in the plan.
      for (let turn = 0; turn < 2; turn++) {
        plan.values.set(values)
        realPower(plan, 2.5, out)
      }
      for (let k = 0; k <= size / 2; k++) {
        let re = 0
        let im = 0
        values.forEach((y, i) => {
          re += y * Math.cos((2 * Math.PI * ((i * k) % size)) / size)
          im -= y * Math.sin((2 * Math.PI * ((i * k) % size)) / size)
        })
        expect(Math.abs(out[k]! - 2.5 * (re * re + im * im)), `bin ${k} of ${size}`).toBeLessThan(1e-9 * size)
      }
    }
  })
})

describe('spectrum of a window', () => {
  it('gives every bin the amplitude of its frequency', () => {
    for (const n of [16, 61, 256, 1000]) {
      const series = seriesOf(Float64Array.from({ length: n + 9 }, (_, k) => Math.sin(0.7 * k) + 0.1 * uneven(k)))
      const spectrum = windowSpectrum(series, 5, n + 5)
      expect(spectrum).not.toBeNull()
      if (!spectrum) continue
      // Its line is removed first: bins well above it hardly see that.
      for (let k = 8; k < spectrum.power.length; k += 7) {
        const expected = amplitudeAt(series, 5, n + 5, k * spectrum.binWidth)
        expect(Math.abs(Math.sqrt(spectrum.power[k]!) - expected), `${n} samples, bin ${k}`).toBeLessThan(0.02)
      }
    }
  })

  it('does not depend on the line under it, and averages what is longer than its points in blocks', () => {
    for (const [n, turn] of [
      [3000, 0.3],
      [30_000, 0.01],
    ] as const) {
      const wave = Float64Array.from({ length: n }, (_, k) => Math.sin(turn * k))
      for (const slope of [0, -0.002]) {
        const spectrum = windowSpectrum(seriesOf(wave.map((y, k) => y + 7 + slope * k)), 0, n)!
        const peak = peakAt(spectrum, spectrum.power.indexOf(Math.max(...spectrum.power)))
        // A fiftieth of a resolution cell is what the parabola is taken to be good for.
        const off = Math.abs(peak.frequency - turn / (2 * Math.PI)) / (spectrum.cell * spectrum.binWidth)
        expect(off, `${n} samples, slope ${slope}`).toBeLessThan(0.02)
        expect(Math.abs(peak.amplitude - 1), `${n} samples, slope ${slope}`).toBeLessThan(0.02)
      }
    }
  })

  it('is the same in a buffer that held another', () => {
    const series = seriesOf(Float64Array.from({ length: 5000 }, (_, k) => uneven(k)))
    const buffer = new Float64Array(SPECTRUM_BINS).fill(1e9)
    for (const end of [4100, 700, 40]) {
      expect(windowSpectrum(series, 3, end, buffer)?.power).toEqual(windowSpectrum(series, 3, end)?.power)
    }
  })
})
