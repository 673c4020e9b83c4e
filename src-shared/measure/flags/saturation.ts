import type { Analysis } from '../analysis.ts'
import { LEVEL_CHANCE, type LevelCheck } from './level-check.ts'
import { LIMITS, reachOf } from './budget.ts'

export interface Saturation {
  readonly bright: LevelCheck
  /** How much the brighter level reads low, % of its light, and the least that counts. */
  readonly lowPct: number
  readonly limitPct: number
  /** Whether the darker level is bright enough to tell saturation from less light. */
  readonly told: boolean
}

/**
 * Compression short of the rails: the brighter level of the step reads low against the ladder by more than 3 %, and
 * the darker one by a clearly smaller share. Less light (a dimmed lamp, a dirty detector) would take the same share of
 * both; another level shown in its place would read as a level of the ladder. Neither counts.
 */
export function saturationOf(analysis: Analysis, checks: readonly LevelCheck[]): Saturation | null {
  const { ladder } = analysis.input
  const [a, b] = checks
  if (!ladder || !a || !b) return null
  const zero = ladder.darkV ?? 0
  const lightOf = (volts: number): number => Math.abs(volts - zero)
  const [bright, dark] = lightOf(a.expectedV) > lightOf(b.expectedV) ? [a, b] : [b, a]
  const top = Math.max(...ladder.steps.map((step) => lightOf(step.meanV)))
  const light = lightOf(bright.expectedV)
  if (!(light > LIMITS.saturationLight * top)) return null
  const reach = reachOf(LEVEL_CHANCE, analysis.noise.dof)
  const lowPct = (100 * (light - lightOf(bright.measuredV))) / light
  const limitPct = Math.max(LIMITS.ladderPct, (100 * reach * bright.uV) / light)
  if (!(lowPct > limitPct)) return null
  // Volts the darker level would have lost if both had lost the same share, and what it has lost.
  const proportionalV = (lowPct / 100) * lightOf(dark.expectedV)
  const missingV = lightOf(dark.expectedV) - lightOf(dark.measuredV)
  const toleranceV = Math.max(reach * dark.uV, LIMITS.saturationLeast * top)
  const told = proportionalV > toleranceV
  if (told && missingV > LIMITS.saturationSame * proportionalV) return null
  if (missingV < -Math.max(toleranceV, LIMITS.saturationGain * lightOf(dark.expectedV))) return null
  // Another level of the ladder, shown in place of the brighter one.
  const other = ladder.steps.some(
    (step) =>
      step.level !== bright.level &&
      Math.abs(lightOf(bright.measuredV) - lightOf(step.meanV)) <
        Math.max(reach * bright.uV, LIMITS.saturationGain * lightOf(step.meanV), 2 * LIMITS.saturationLeast * top),
  )
  return other ? null : { bright, lowPct, limitPct, told }
}
