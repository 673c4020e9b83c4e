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

/** Longest time that counts as within one refresh, s. */
export const windowOf = (refreshHz: number, tolerancePct: number): number => (1 / refreshHz) * (1 + tolerancePct / 100)

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
  const free = (good: number, bad: number): MeasureScale => ({ good, bad, limit: null, limitName: '' })
  const time = (of: 'arrival' | 'settling' | null): MeasureScale => {
    const tolerancePct = inWindow.of === of ? inWindow.tolerancePct : 0
    const limit = windowOf(refreshHz, tolerancePct)
    return {
      good: 0,
      bad: 1.25 * limit,
      limit,
      limitName: `one refresh${tolerancePct > 0 ? ` + ${tolerancePct} %` : ''}`,
    }
  }
  const excursion = free(0, 4 * overshootLimitPct)
  const scales: Readonly<Record<MatrixMeasure, MeasureScale>> = {
    transition_duration_s: time(null),
    arrival_s: time('arrival'),
    settling_s: time('settling'),
    // Both are read on one scale; the recipe limits overshoot only.
    overshoot_pct: { ...excursion, limit: overshootLimitPct, limitName: 'limit of the recipe' },
    undershoot_pct: excursion,
    overshoot_code: free(0, 40),
    undershoot_code: free(0, 40),
    in_window: free(1, 0),
    first_frame_completion_pct: free(100, 0),
    integrated_error_s: free(0, periodS),
    // A moving edge is blurred over 0.8 of a refresh by the hold alone.
    blur_edge_s: free(0.8 * periodS, 2 * periodS),
    snr: { ...free(40 * SNR_LIMIT, 0), limit: SNR_LIMIT, limitName: 'least step over noise' },
  }
  return scales[measure]
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

export interface Extent {
  readonly min: number
  readonly max: number
}

/** Extent of the finite values; null when there is none. */
export function extentOf(values: readonly (number | null)[]): Extent | null {
  let min = Infinity
  let max = -Infinity
  for (const value of values) {
    if (value === null || !Number.isFinite(value)) continue
    min = Math.min(min, value)
    max = Math.max(max, value)
  }
  return min <= max ? { min, max } : null
}
