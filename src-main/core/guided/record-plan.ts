/** What every way of reading a step shares. */
import type { RawTrace } from '#shared/domain/capture.ts'
import { AppError } from '#shared/domain/errors.ts'
import type { GuidedPlan, GuidedValue } from '#shared/domain/guided.ts'
import type { MeasureInput } from '#shared/domain/measure-input.ts'
import { DEFAULT_PLAN, sweepPlanSchema, type SweepPlan } from '#shared/domain/plan.ts'
import type { Recipe } from '#shared/domain/recipe.ts'
import type { Result } from '#shared/domain/result.ts'
import type { Analyzer, Clock, Meters, Rig, StimulusRouter } from '../ports.ts'

export interface Taken {
  readonly values: readonly GuidedValue[]
  readonly source: string
  /** What is to be known about them; kept with the readings. */
  readonly note: string
}

export interface ReadDeps {
  readonly rig: Rig
  readonly stimulus: StimulusRouter
  readonly meters: Meters | undefined
  readonly clock: Clock
  readonly light: Analyzer['light']
  readonly measure: (input: MeasureInput) => Promise<Result>
  readonly recipe: () => Recipe
  readonly darkV: (rangeV: number) => number | null
  readonly rigIdentity: () => string
}

/** Recorded for a pulse or flicker, s. */
export const STEADY_S = 1

/** The record's own plan: rate, range and place of the patch. */
export function sweepPlanFor(plan: GuidedPlan): SweepPlan {
  const levels = [...new Set(plan.sequence === 'strobing' ? [plan.from, plan.to] : [0, 255])].sort((a, b) => a - b)
  const { setting, refreshHz, rangeV, patch } = plan
  return sweepPlanSchema.parse({ ...DEFAULT_PLAN, setting, refreshHz, rangeV, patch, levels })
}

export function refuseClipped({ samples, scaleV, offsetV, rangeV }: RawTrace): void {
  const limit = 0.999 * rangeV
  if (samples.some((code: number) => Math.abs(code * scaleV + offsetV) >= limit))
    throw new AppError(
      'rig-unsuitable',
      `The light reaches the end of the ${rangeV} V range.`,
      'Choose a wider range or dim what reaches the sensor; the values read before then need the same range.',
    )
}
