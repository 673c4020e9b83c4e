import type { Recipe } from '../domain/recipe.ts'
import { codeOfVolts, lightnessOfVolts, voltsOfCode, voltsOfLightness, type LadderCurve } from './ladder-curve.ts'

/** Curve of the ladder, or the sentence that says why there is none. */
export type CodeScale = { readonly curve: LadderCurve } | { readonly problem: string }

/** What a trace is measured on, from volts and back; both increase together or fall together. */
export interface OrdinateScale {
  readonly of: (volts: number) => number
  readonly volts: (value: number) => number
  /** As its differences are told: “codes”, “L*”. */
  readonly unit: string
}

/** Scale of an ordinate that comes through the ladder. */
export function ladderScale(ordinate: 'code' | 'lightness', curve: LadderCurve): OrdinateScale {
  return ordinate === 'code'
    ? { of: (volts) => codeOfVolts(curve, volts), volts: (code) => voltsOfCode(curve, code), unit: 'codes' }
    : { of: (volts) => lightnessOfVolts(curve, volts), volts: (l) => voltsOfLightness(curve, l), unit: 'L*' }
}

/**
 * Scale of a recipe's ordinate; null for luminance, where volts are as good; the reason where it needs a ladder that
 * is missing or unusable.
 */
export function ordinateOf(
  ordinate: Recipe['ordinate'],
  codes: CodeScale,
): { readonly scale: OrdinateScale | null } | { readonly problem: string } {
  if (ordinate === 'luminance') return { scale: null }
  const name = ordinate === 'code' ? 'code' : 'lightness'
  return 'curve' in codes
    ? { scale: ladderScale(ordinate, codes.curve) }
    : { problem: `The ${name} ordinate needs a ladder. ${codes.problem}` }
}
