import type { Ladder, RawTrace } from './capture.ts'
import type { Recipe } from './recipe.ts'
import type { Override } from './views.ts'

/** Everything one measurement depends on: plain data, so that live, stored, imported and re-analysed captures take one path. */
export interface MeasureInput {
  readonly trace: RawTrace
  /** Samples recorded before the rig's trigger. */
  readonly triggerIndex: number
  /** Grey levels of the step; null when they are not known (a plain recorded step): measures that need them are then undefined. */
  readonly from: number | null
  readonly to: number | null
  /** Refresh rate of the display, Hz; null when it is not known (window, frame and blur measures are then undefined). */
  readonly refreshHz: number | null
  readonly ladder: Ladder | null
  /** True when the trigger marks the light edge, so that an edge far from it is a doubt. */
  readonly edgeAtTrigger: boolean
  readonly recipe: Recipe
  readonly override?: Override | null
}
