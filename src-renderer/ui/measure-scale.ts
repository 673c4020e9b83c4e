/** From a measure's value to its place between good and bad, the same for every sweep at one refresh rate. */
import type { Recipe } from '#shared/domain/recipe.ts'
import type { MatrixMeasure } from './measures-shown.ts'

export interface MeasureScale {
  /** Values at the good and at the bad end; what is larger in number depends on the measure. */
  readonly good: number
  readonly bad: number
  /** What the value is judged against; null where there is no limit. */
  readonly limit: number | null
  /** What the limit is, in words; empty where there is none. */
  readonly limitName: string
}

type Judged = Pick<Recipe, 'inWindow' | 'overshootLimitPct'>

/** Step over noise under which a capture is flagged. */
const SNR_LIMIT = 20

/**
 * Range of a measure at a refresh rate (Hz) under the limits of a recipe. Times reach a quarter past the limit they are
 * judged against, excursions to four times theirs, so that what is outside still differs in colour.
 */
export function fixedScale(
  measure: MatrixMeasure,
  refreshHz: number,
  { inWindow, overshootLimitPct }: Judged,
): MeasureScale {
  const periodS = 1 / refreshHz
  const window = periodS * (1 + inWindow.tolerancePct / 100)
  const none = { limit: null, limitName: '' }
  switch (measure) {
    case 'transition_duration_s':
      return { good: 0, bad: 1.25 * periodS, limit: periodS, limitName: 'one refresh' }
    case 'arrival_s':
    case 'settling_s': {
      const isJudged = inWindow.of === (measure === 'arrival_s' ? 'arrival' : 'settling')
      const name = isJudged && inWindow.tolerancePct > 0 ? `one refresh + ${inWindow.tolerancePct} %` : 'one refresh'
      const limit = isJudged ? window : periodS
      return { good: 0, bad: 1.25 * limit, limit, limitName: name }
    }
    case 'overshoot_pct':
      return { good: 0, bad: 4 * overshootLimitPct, limit: overshootLimitPct, limitName: 'limit of the recipe' }
    case 'undershoot_pct':
      // Read on the same scale; the recipe limits overshoot only.
      return { good: 0, bad: 4 * overshootLimitPct, ...none }
    case 'overshoot_code':
    case 'undershoot_code':
      return { good: 0, bad: 40, ...none }
    case 'in_window':
      return { good: 1, bad: 0, ...none }
    case 'first_frame_completion_pct':
      return { good: 100, bad: 0, ...none }
    case 'integrated_error_s':
      return { good: 0, bad: periodS, ...none }
    case 'blur_edge_s':
      // A moving edge is blurred over 0.8 of a refresh by the hold alone.
      return { good: 0.8 * periodS, bad: 2 * periodS, ...none }
    case 'snr':
      return { good: 40 * SNR_LIMIT, bad: 0, limit: SNR_LIMIT, limitName: 'least step over noise' }
  }
}

/** The scale with its ends pinned; direction and limit stay the measure's own. */
export function pinnedScale(scale: MeasureScale, low: number, high: number): MeasureScale {
  return scale.good <= scale.bad ? { ...scale, good: low, bad: high } : { ...scale, good: high, bad: low }
}

/** 0 at the good end, 1 at the bad one, clamped; the middle for a scale without extent. */
export function badness(value: number, { good, bad }: MeasureScale): number {
  return good === bad ? 0.5 : Math.min(1, Math.max(0, (value - good) / (bad - good)))
}

export type Judgement = 'inside' | 'outside' | 'undecided'

/** Undecided where the limit lies within the value's 95 % interval; inside where there is no limit. */
export function judge(value: number, u95: number | null, { good, bad, limit }: MeasureScale): Judgement {
  if (limit === null) return 'inside'
  if (u95 !== null && Math.abs(value - limit) <= u95) return 'undecided'
  return (good <= bad ? value > limit : value < limit) ? 'outside' : 'inside'
}

/** Extent of the finite values; null when there is none. */
export function extentOf(values: readonly (number | null)[]): { min: number; max: number } | null {
  let min = Infinity
  let max = -Infinity
  for (const value of values) {
    if (value === null || !Number.isFinite(value)) continue
    min = Math.min(min, value)
    max = Math.max(max, value)
  }
  return min <= max ? { min, max } : null
}
