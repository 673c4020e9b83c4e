/** A peak fitted to samples: position, value, and how many samples of a plain mean it is worth. */
export interface PeakFit {
  readonly at: number
  readonly value: number
  readonly worth: number
  /** What the choice between a parabola and a corner leaves open, in the unit of the values (standard uncertainty). */
  readonly open: number
  readonly isCorner: boolean
}

const MOST = 512
const sumX = new Float64Array(MOST + 1)
const sumY = new Float64Array(MOST + 1)
const sumXX = new Float64Array(MOST + 1)
const sumXY = new Float64Array(MOST + 1)
const sumYY = new Float64Array(MOST + 1)

/** Samples from either end at which a corner is not looked for. */
const ENDS = 3
/** Ratio of the squared residues above which a corner is taken for certain; under straight noise 2.07 in one of a hundred. */
const CERTAIN = 2

interface Line {
  slope: number
  atZero: number
  residue: number
}

function lineOf(from: number, to: number, out: Line): void {
  const n = to - from
  const x = sumX[to]! - sumX[from]!
  const y = sumY[to]! - sumY[from]!
  const xx = sumXX[to]! - sumXX[from]! - (x * x) / n
  const xy = sumXY[to]! - sumXY[from]! - (x * y) / n
  const yy = sumYY[to]! - sumYY[from]! - (y * y) / n
  out.slope = xx > 0 ? xy / xx : 0
  out.atZero = (y - out.slope * x) / n
  out.residue = Math.max(0, yy - out.slope * xy)
}

const left: Line = { slope: 0, atZero: 0, residue: 0 }
const right: Line = { slope: 0, atZero: 0, residue: 0 }

/**
 * Two straight lines that meet in a corner between `from` and `to`, against a parabola through the same samples, every
 * `stride`-th of them (so that noise with a memory does not decide). The corner's place is searched, which is why a
 * ratio of squared residues decides and not a count of parameters: above 2 the corner, below 1 the parabola, between
 * them their middle.
 * @param sign +1 for a maximum, −1 for a minimum
 * @returns null where no corner fits (or fewer than 12 samples are there to tell)
 */
export function cornerPeak(
  v: Float64Array,
  from: number,
  to: number,
  stride: number,
  sign: number,
  parabola: { readonly at: number; readonly value: number } | null,
): PeakFit | null {
  const step = Math.max(1, stride, Math.ceil((to - from + 1) / MOST))
  const n = Math.floor((to - from) / step) + 1
  if (n < 12) return null
  for (let i = 0; i < n; i++) {
    let y = 0
    if (step === 1) y = v[from + i]!
    else {
      const last = Math.min(to + 1, from + (i + 1) * step)
      for (let k = from + i * step; k < last; k++) y += v[k]!
      y /= last - (from + i * step)
    }
    sumX[i + 1] = sumX[i]! + i
    sumY[i + 1] = sumY[i]! + y
    sumXX[i + 1] = sumXX[i]! + i * i
    sumXY[i + 1] = sumXY[i]! + i * y
    sumYY[i + 1] = sumYY[i]! + y * y
  }
  let best = Infinity
  let at = 0
  let value = 0
  for (let split = ENDS; split <= n - ENDS; split++) {
    lineOf(0, split, left)
    lineOf(split, n, right)
    const residue = left.residue + right.residue
    if (residue >= best) continue
    const turn = left.slope - right.slope
    if (!(sign * turn > 0)) continue
    const x = (right.atZero - left.atZero) / turn
    if (x < split - 2 || x > split + 1) continue
    best = residue
    at = x
    value = left.atZero + left.slope * x
  }
  if (best === Infinity) return null
  const smooth = parabolaResidue(n)
  const ratio = best > 0 ? smooth / best : Infinity
  if (ratio <= 1) {
    if (parabola === null) return null
    // The parabola, but a corner is not ruled out: its chance by both residues (Akaike weights; equal numbers of
    // parameters but for the searched place), and what it would change.
    const chance = 1 / (1 + ratio ** (-n / 2))
    const open = Math.abs(value - parabola.value) * Math.sqrt(chance * (1 - chance))
    return { ...parabola, worth: Math.max(1, (n * step) / 2.25), open, isCorner: false }
  }
  const place = from + at * step + (step - 1) / 2
  if (parabola === null || ratio >= CERTAIN) return { at: place, value, worth: (n * step) / 4, open: 0, isCorner: true }
  return {
    at: (place + parabola.at) / 2,
    value: (value + parabola.value) / 2,
    worth: (n * step) / 4,
    open: Math.abs(value - parabola.value) / Math.sqrt(12),
    isCorner: true,
  }
}

/** Squared residue of the least-squares parabola through the samples summed up: orthogonal polynomials. */
function parabolaResidue(n: number): number {
  const c = (n - 1) / 2
  const y = sumY[n]!
  const yy = sumYY[n]! - (y * y) / n
  // Σ t·y and Σ (t² − a)·y about the middle.
  const ty = sumXY[n]! - c * y
  const tt = (n * (n * n - 1)) / 12
  let ttY = 0
  for (let i = 0; i < n; i++) {
    const t = i - c
    ttY += t * t * (sumY[i + 1]! - sumY[i]!)
  }
  const a = (n * n - 1) / 12
  const p2y = ttY - a * y
  const p2 = (n * (n * n - 1) * (n * n - 4)) / 180
  return Math.max(0, yy - (ty * ty) / tt - (p2y * p2y) / p2)
}
