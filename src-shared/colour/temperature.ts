/**
 * Correlated colour temperature and Duv: the nearest point of the Planck locus in CIE 1960 u, v (CIE 15), by direct
 * search over 1/T. Planck's radiation with c₂ = 1.4388e-2 m·K and refractive index 1, as the CIE's tables of
 * illuminant A and D series take it.
 */
import { uv1960Of, xyOf, type Pair } from './chromaticity.ts'
import { integrated } from './observer.ts'

const C2_NM_K = 1.4388e7
/** Temperatures searched, K. */
const SEARCHED_K = [1000, 100_000] as const
/** |Duv| beyond which a colour has no meaningful correlated colour temperature (CIE 15). */
const MOST_DUV = 0.05

export interface ColourTemperature {
  readonly cctK: number
  /** Distance from the Planck locus in u, v; positive above it (greenish). */
  readonly duv: number
}

/** x, y of a Planck radiator at a temperature in kelvin. */
export function planckXy(kelvin: number): Pair {
  // Scaled to its value at 560 nm, so that nothing under- or overflows.
  const exponent = (nm: number): number => C2_NM_K / (nm * kelvin)
  const reference = Math.expm1(exponent(560)) * 560 ** 5
  const xy = xyOf(integrated((nm) => reference / (Math.expm1(exponent(nm)) * nm ** 5)))
  if (xy === null) throw new RangeError(`no Planck radiator at ${kelvin} K`)
  return xy
}

const locus = (mired: number): Pair => uv1960Of(planckXy(1e6 / mired))

/** Null beyond |Duv| of 0.05, and outside 1,000 to 100,000 K. */
export function colourTemperature(xy: Pair): ColourTemperature | null {
  const [u, v] = uv1960Of(xy)
  const distance = (mired: number): number => {
    const [pu, pv] = locus(mired)
    return Math.hypot(u - pu, v - pv)
  }
  const [last, first] = [1e6 / SEARCHED_K[0], 1e6 / SEARCHED_K[1]]
  const steps = 100
  const at = (i: number): number => first + (i * (last - first)) / steps
  let nearest = 0
  let least = Infinity
  for (let i = 0; i <= steps; i++) {
    const away = distance(at(i))
    if (away < least) [nearest, least] = [i, away]
  }
  if (nearest === 0 || nearest === steps) return null
  let [low, high] = [at(nearest - 1), at(nearest + 1)]
  // Golden section: the distance has one minimum between neighbours of the coarse search.
  const ratio = (Math.sqrt(5) - 1) / 2
  while (high - low > 1e-7 * high) {
    const left = high - ratio * (high - low)
    const right = low + ratio * (high - low)
    if (distance(left) < distance(right)) high = right
    else low = left
  }
  const mired = (low + high) / 2
  const [pu, pv] = locus(mired)
  const away = Math.hypot(u - pu, v - pv)
  if (away > MOST_DUV) return null
  // Above: on the side of the locus's normal that points to larger v.
  const [nextU, nextV] = locus(mired * 1.0001)
  const above = (v - pv) * (nextU - pu) - (u - pu) * (nextV - pv) >= 0
  return { cctK: 1e6 / mired, duv: above ? away : -away }
}
