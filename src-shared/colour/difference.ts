/** Colour differences of measured XYZ, by colorjs.io on coordinates that are made here against a stated white. */
import { deltaE2000, deltaEITP, Lab, XYZ_ABS_D65, type ColorObject } from 'colorjs.io/fn'
import type { Xyz } from './chromaticity.ts'

export type Lab3 = readonly [lStar: number, aStar: number, bStar: number]

const EPSILON = 216 / 24389
const KAPPA = 24389 / 27

/** CIE 1976 L*, a*, b* against a white (ISO/CIE 11664-4). */
export function labOf(xyz: Xyz, white: Xyz): Lab3 {
  const f = (i: 0 | 1 | 2): number => {
    const t = xyz[i] / white[i]
    return t > EPSILON ? Math.cbrt(t) : (KAPPA * t + 16) / 116
  }
  const [fx, fy, fz] = [f(0), f(1), f(2)]
  return [116 * fy - 16, 500 * (fx - fy), 200 * (fy - fz)]
}

/**
 * The library's `lab` is relative to D50 and would adapt anything else on the way; coordinates that are already
 * against their own white pass through it unchanged.
 */
const asLab = (lab: Lab3): ColorObject => ({ space: Lab, coords: [...lab], alpha: 1 })

/** CIEDE2000 (ISO/CIE 11664-6) of two L*a*b* against their whites, weights 1. */
export const ciede2000 = (a: Lab3, b: Lab3): number => deltaE2000(asLab(a), asLab(b))

/** ΔE ITP (Recommendation ITU-R BT.2124) of two absolute XYZ in cd/m²; no adaptation takes place. */
export function deltaEItp(a: Xyz, b: Xyz): number {
  const absolute = (xyz: Xyz): ColorObject => ({ space: XYZ_ABS_D65, coords: [...xyz], alpha: 1 })
  return deltaEITP(absolute(a), absolute(b))
}
