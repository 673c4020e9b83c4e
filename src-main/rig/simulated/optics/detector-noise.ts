/**
 * Noise that arises in front of the detector's bandwidth and passes it: shot noise of the photocurrent, thermal noise of
 * the feedback resistor, and 1/f noise. White noise through one or two poles is made exactly at the samples: the poles'
 * state is a stationary Gaussian process whose covariance over one sample interval is known in closed form.
 */
import type { Random } from './noise.ts'

/** Elementary charge, C, and Boltzmann constant, J/K (exact in the SI since 2019); room temperature, K. */
const CHARGE = 1.602176634e-19
const BOLTZMANN = 1.380649e-23
const TEMPERATURE = 300

/** One-sided densities of white noise at the output of the transimpedance amplifier, V²/Hz. */
export interface WhiteDensity {
  /** 4kTR. */
  readonly thermal: number
  /** 2qI·R² at white; follows the light. */
  readonly shotAtWhite: number
}

/** Densities of an amplifier whose feedback resistor turns the photocurrent at white into `spanV`; none without current. */
export function whiteDensity(photocurrentA: number, spanV: number): WhiteDensity {
  if (!(photocurrentA > 0) || !(spanV > 0)) return { thermal: 0, shotAtWhite: 0 }
  const ohms = spanV / photocurrentA
  return { thermal: 4 * BOLTZMANN * TEMPERATURE * ohms, shotAtWhite: 2 * CHARGE * photocurrentA * ohms * ohms }
}

/** Two standard normal numbers (Box–Muller) at a time. */
function normals(source: Random): () => number {
  let spare: number | null = null
  return () => {
    if (spare !== null) {
      const value = spare
      spare = null
      return value
    }
    const radius = Math.sqrt(-2 * Math.log(1 - source()))
    const angle = 2 * Math.PI * source()
    spare = radius * Math.sin(angle)
    return radius * Math.cos(angle)
  }
}

/**
 * Adds shot and thermal noise that has passed the poles, in place. `light` is the share of white each sample sees (0–1);
 * the shot noise follows it from one sample to the next.
 * @param poles one or two time constants, s
 */
export function addWhite(
  samples: Float64Array,
  light: (sample: number) => number,
  { thermal, shotAtWhite }: WhiteDensity,
  poles: readonly number[],
  stepS: number,
  source: Random,
): void {
  if (!(thermal + shotAtWhite > 0)) return
  const next = normals(source)
  const [first = 0, second] = poles
  const a = 1 / first
  // A part in a million between equal poles changes nothing visible and keeps the quotient below finite.
  const b = second === undefined ? 0 : Math.abs(second / first - 1) < 1e-6 ? a * (1 + 1e-6) : 1 / second
  const one = second === undefined
  // Stationary covariance for a one-sided density of 1: x₁' = −a·x₁ + a·w, x₂' = b·(x₁ − x₂).
  const p11 = a / 4
  const p12 = one ? 0 : (b * p11) / (a + b)
  const p22 = p12
  const ea = Math.exp(-a * stepS)
  const eb = one ? 0 : Math.exp(-b * stepS)
  const cross = one ? 0 : (b * (ea - eb)) / (b - a)
  // What one interval adds: P − ΦPΦᵀ, and its Cholesky factor.
  const q11 = p11 * (1 - ea * ea)
  const q12 = p12 - ea * (cross * p11 + eb * p12)
  const q22 = p22 - (cross * cross * p11 + 2 * cross * eb * p12 + eb * eb * p22)
  const l11 = Math.sqrt(q11)
  const l21 = one ? 0 : q12 / l11
  const l22 = one ? 0 : Math.sqrt(Math.max(0, q22 - l21 * l21))
  const densityAt = (i: number): number => thermal + shotAtWhite * Math.max(0, light(i))
  const start = Math.sqrt(densityAt(0))
  const s11 = Math.sqrt(p11)
  const s21 = one ? 0 : p12 / s11
  const e1 = next()
  let x1 = start * s11 * e1
  let x2 = one ? 0 : start * (s21 * e1 + Math.sqrt(Math.max(0, p22 - s21 * s21)) * next())
  for (let i = 0; i < samples.length; i++) {
    if (i > 0) {
      const scale = Math.sqrt(densityAt(i))
      const drive = next()
      if (!one) x2 = cross * x1 + eb * x2 + scale * (l21 * drive + l22 * next())
      x1 = ea * x1 + scale * l11 * drive
    }
    samples[i]! += one ? x1 : x2
  }
}

/** Corner frequencies of the relaxations that make up 1/f noise, a decade apart, Hz: 1/f to 6 % from 0.03 to 800 Hz. */
const CORNERS = [0.05, 0.5, 5, 50, 500]
/** A relaxation is drawn anew where it has changed by this share of a radian, and is a straight line between. */
const COARSE = 0.05

/**
 * Adds 1/f noise of a one-sided density of `density` V²/Hz at 1 Hz, in place: a sum of relaxations a decade apart
 * (McWhorter's picture of it; from memory), each of variance density·ln 10, through the poles.
 */
export function addFlicker(
  samples: Float64Array,
  density: number,
  poles: readonly number[],
  stepS: number,
  source: Random,
): void {
  if (!(density > 0) || samples.length === 0) return
  const next = normals(source)
  const sum = new Float64Array(samples.length)
  const sd = Math.sqrt(density * Math.LN10)
  for (const corner of CORNERS) {
    const omega = 2 * Math.PI * corner
    const stride = Math.max(1, Math.floor(COARSE / (omega * stepS)))
    const keep = Math.exp(-omega * stepS * stride)
    const fresh = sd * Math.sqrt(1 - keep * keep)
    let from = sd * next()
    for (let i = 0; i < sum.length; i += stride) {
      const to = keep * from + fresh * next()
      const end = Math.min(sum.length, i + stride)
      for (let k = i; k < end; k++) sum[k]! += from + ((to - from) * (k - i)) / stride
      from = to
    }
  }
  for (const pole of poles) {
    const keep = Math.exp(-stepS / pole)
    let state = sum[0]!
    for (let i = 0; i < sum.length; i++) {
      state = sum[i]! + (state - sum[i]!) * keep
      sum[i] = state
    }
  }
  for (let i = 0; i < samples.length; i++) samples[i]! += sum[i]!
}
