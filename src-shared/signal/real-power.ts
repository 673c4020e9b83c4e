/**
 * Squared magnitudes of the discrete Fourier transform of real values, by a complex transform of half the length:
 * even samples are its real parts, odd ones its imaginary parts. Radix 4 in place, frequencies first; where it leaves
 * each frequency is looked up at the end, so that nothing is moved.
 * Source: Cooley and Tukey 1965; splitting of real sequences as in textbooks (both from memory, checked in the tests).
 */

/** Tables and the buffer of one length; what the buffer holds before a transform is the caller's to fill. */
export interface RealPlan {
  /** Values to transform, a power of two of them and at least 16. */
  readonly values: Float64Array
  /** Cosines and sines of every butterfly, in the order they are used. */
  readonly turns: Float64Array
  /** Where in `values` frequency k of the half-length transform is left. */
  readonly places: Int32Array
  /** Cosines and sines that put the two halves together. */
  readonly joints: Float64Array
}

export function realPlan(size: number): RealPlan {
  const half = size / 2
  const turns: number[] = []
  for (let n = half; n >= 8; n /= 4) {
    for (let p = 0; p < n / 4; p++) {
      for (const q of [1, 2, 3]) turns.push(Math.cos((2 * Math.PI * p * q) / n), -Math.sin((2 * Math.PI * p * q) / n))
    }
  }
  const joints = new Float64Array(half + 2)
  for (let k = 0; k <= half / 2; k++) {
    joints[2 * k] = Math.cos((2 * Math.PI * k) / size)
    joints[2 * k + 1] = -Math.sin((2 * Math.PI * k) / size)
  }
  const places = new Int32Array(half)
  const place = (offset: number, n: number, frequency: number, apart: number): void => {
    const parts = Math.min(4, n)
    for (let r = 0; r < parts; r++) {
      const at = offset + (r * n) / parts
      if (n <= 4) places[frequency + r * apart] = 2 * at
      else place(at, n / 4, frequency + r * apart, 4 * apart)
    }
  }
  place(0, half, 0, 1)
  return { values: new Float64Array(size), turns: Float64Array.from(turns), places, joints }
}

/** Squared magnitudes times `scale` of frequencies 0 … size/2 to `out`; overwrites the plan's values. */
export function realPower(plan: RealPlan, scale: number, out: Float64Array): void {
  const { values: x, places, joints } = plan
  transformHalf(plan)
  const half = x.length / 2
  out[0] = scale * (x[0]! + x[1]!) ** 2
  out[half] = scale * (x[0]! - x[1]!) ** 2
  const quarter = scale / 4
  for (let k = 1, j = half - 1; k <= j; k++, j--) {
    const a = places[k]!
    const b = places[j]!
    // Twice the transforms of the even and of the odd samples.
    const evenRe = x[a]! + x[b]!
    const evenIm = x[a + 1]! - x[b + 1]!
    const oddRe = x[a + 1]! + x[b + 1]!
    const oddIm = x[b]! - x[a]!
    const c = joints[2 * k]!
    const s = joints[2 * k + 1]!
    const re = oddRe * c - oddIm * s
    const im = oddRe * s + oddIm * c
    out[k] = quarter * ((evenRe + re) ** 2 + (evenIm + im) ** 2)
    out[j] = quarter * ((evenRe - re) ** 2 + (evenIm - im) ** 2)
  }
}

/** Complex transform of the pairs in `values`. */
function transformHalf({ values: x, turns }: RealPlan): void {
  let n = x.length / 2
  let first = 0
  for (; n >= 8; n >>= 2) {
    const quarter = n >> 1
    for (let base = 0; base < x.length; base += 2 * n) {
      const end = base + quarter
      for (let a = base, w = first; a < end; a += 2, w += 6) {
        const b = a + quarter
        const c = b + quarter
        const d = c + quarter
        const sumRe = x[a]! + x[c]!
        const sumIm = x[a + 1]! + x[c + 1]!
        const gapRe = x[a]! - x[c]!
        const gapIm = x[a + 1]! - x[c + 1]!
        const otherRe = x[b]! + x[d]!
        const otherIm = x[b + 1]! + x[d + 1]!
        // −i times the difference of b and d.
        const turnedRe = x[b + 1]! - x[d + 1]!
        const turnedIm = x[d]! - x[b]!
        x[a] = sumRe + otherRe
        x[a + 1] = sumIm + otherIm
        let re = gapRe + turnedRe
        let im = gapIm + turnedIm
        x[b] = re * turns[w]! - im * turns[w + 1]!
        x[b + 1] = re * turns[w + 1]! + im * turns[w]!
        re = sumRe - otherRe
        im = sumIm - otherIm
        x[c] = re * turns[w + 2]! - im * turns[w + 3]!
        x[c + 1] = re * turns[w + 3]! + im * turns[w + 2]!
        re = gapRe - turnedRe
        im = gapIm - turnedIm
        x[d] = re * turns[w + 4]! - im * turns[w + 5]!
        x[d + 1] = re * turns[w + 5]! + im * turns[w + 4]!
      }
    }
    first += 6 * (n >> 2)
  }
  if (n === 4) lastFours(x)
  else lastPairs(x)
}

/** Last step of a length that is a power of four. */
function lastFours(x: Float64Array): void {
  for (let a = 0; a < x.length; a += 8) {
    const sumRe = x[a]! + x[a + 4]!
    const sumIm = x[a + 1]! + x[a + 5]!
    const gapRe = x[a]! - x[a + 4]!
    const gapIm = x[a + 1]! - x[a + 5]!
    const otherRe = x[a + 2]! + x[a + 6]!
    const otherIm = x[a + 3]! + x[a + 7]!
    const turnedRe = x[a + 3]! - x[a + 7]!
    const turnedIm = x[a + 6]! - x[a + 2]!
    x[a] = sumRe + otherRe
    x[a + 1] = sumIm + otherIm
    x[a + 2] = gapRe + turnedRe
    x[a + 3] = gapIm + turnedIm
    x[a + 4] = sumRe - otherRe
    x[a + 5] = sumIm - otherIm
    x[a + 6] = gapRe - turnedRe
    x[a + 7] = gapIm - turnedIm
  }
}

/** Last step of the other lengths. */
function lastPairs(x: Float64Array): void {
  for (let a = 0; a < x.length; a += 4) {
    const re = x[a + 2]!
    const im = x[a + 3]!
    x[a + 2] = x[a]! - re
    x[a + 3] = x[a + 1]! - im
    x[a] = x[a]! + re
    x[a + 1] = x[a + 1]! + im
  }
}
