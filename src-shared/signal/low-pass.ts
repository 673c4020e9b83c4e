/** One second-order section, a0 = 1: y = b0·x + b1·x₁ + b2·x₂ − a1·y₁ − a2·y₂. */
export interface Biquad {
  readonly b0: number
  readonly b1: number
  readonly b2: number
  readonly a1: number
  readonly a2: number
}

export type LowPassShape = 'one-pole' | 'bessel-2' | 'bessel-4' | 'butterworth-2' | 'butterworth-4'

/**
 * Analog prototypes with their −3 dB point at ω = 1, as sections g / (p·s² + q·s + g).
 * Butterworth: s² + 2 sin θ s + 1. Bessel: reverse Bessel polynomials 3 + 3s + s² and
 * 105 + 105s + 45s² + 10s³ + s⁴ with s scaled by their −3 dB frequencies (1.361654129, 2.113917675; computed).
 */
const B2 = 1.3616541287161306
const B4 = 2.113917674904216
const PROTOTYPES: Record<LowPassShape, readonly { p: number; q: number; g: number }[]> = {
  'one-pole': [{ p: 0, q: 1, g: 1 }],
  'butterworth-2': [{ p: 1, q: Math.SQRT2, g: 1 }],
  'butterworth-4': [
    { p: 1, q: 2 * Math.sin(Math.PI / 8), g: 1 },
    { p: 1, q: 2 * Math.sin((3 * Math.PI) / 8), g: 1 },
  ],
  'bessel-2': [{ p: B2 * B2, q: 3 * B2, g: 3 }],
  'bessel-4': [
    { p: B4 * B4, q: 4.207578794359254 * B4, g: 11.4878004768712 },
    { p: B4 * B4, q: 5.792421205640748 * B4, g: 9.14013089027794 },
  ],
}

/**
 * Digital sections of a low-pass by the bilinear transform, prewarped so that −3 dB falls on `cutoffHz`.
 * @returns null when the cut-off is not below half the sample rate.
 */
export function lowPassSections(shape: LowPassShape, cutoffHz: number, sampleRateHz: number): Biquad[] | null {
  if (!(cutoffHz > 0) || !(cutoffHz < sampleRateHz / 2)) return null
  const c = 1 / Math.tan((Math.PI * cutoffHz) / sampleRateHz)
  return PROTOTYPES[shape].map(({ p, q, g }) => {
    if (p === 0) {
      const a0 = q * c + g
      return { b0: g / a0, b1: g / a0, b2: 0, a1: (g - q * c) / a0, a2: 0 }
    }
    const a0 = p * c * c + q * c + g
    return {
      b0: g / a0,
      b1: (2 * g) / a0,
      b2: g / a0,
      a1: (2 * (g - p * c * c)) / a0,
      a2: (p * c * c - q * c + g) / a0,
    }
  })
}

/** Runs sections over the values in place, starting as if the first value had stood for ever. */
export function filterInPlace(values: Float64Array, sections: readonly Biquad[], backward = false): void {
  const n = values.length
  if (n === 0) return
  const start = backward ? n - 1 : 0
  const step = backward ? -1 : 1
  for (const { b0, b1, b2, a1, a2 } of sections) {
    // Transposed direct form II; the state of a constant input with unit gain.
    const x0 = values[start]!
    let s2 = (b2 - a2) * x0
    let s1 = (b1 - a1) * x0 + s2
    for (let i = 0, k = start; i < n; i++, k += step) {
      const x = values[k]!
      const y = b0 * x + s1
      s1 = b1 * x - a1 * y + s2
      s2 = b2 * x - a2 * y
      values[k] = y
    }
  }
}

/**
 * Low-pass of a trace, in place. `zero` runs forward and backward: no delay, twice the attenuation (−6 dB at the
 * cut-off); `causal` runs once and delays. Both ends are held.
 */
export function lowPassInPlace(values: Float64Array, sections: readonly Biquad[], phase: 'zero' | 'causal'): void {
  filterInPlace(values, sections)
  if (phase === 'zero') filterInPlace(values, sections, true)
}
