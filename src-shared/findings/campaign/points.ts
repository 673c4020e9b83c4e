import type { MeasureId } from '#shared/domain/measures.ts'
import type { Recipe } from '#shared/domain/recipe.ts'
import type { MatrixData } from '#shared/domain/views.ts'
import { cellMeans } from '../matrix.ts'
import { inWindowShareOf, meanOf, meansByDirection, type SummaryValue, worstOf } from '../summary.ts'
import { type Estimate, WELL_KNOWN } from './estimate.ts'
import type { FigureId, MeasuredPoint } from './figures.ts'

/** Measures the figures of merit read; ask the store for these. */
export const POINT_MEASURES = [
  'transition_duration_s',
  'in_window',
  'overshoot_pct',
  'first_frame_completion_pct',
  'blur_edge_s',
  'first_pulse_crosstalk_pct',
] as const satisfies MeasureId[]

/** Which sweep a point stands for. */
export interface PointOf {
  readonly sweepId: number
  readonly setting: string
  readonly refreshHz: number
}

/** All figures of one sweep under one recipe; `data` must hold POINT_MEASURES. */
export function measuredPoint(
  { sweepId, setting, refreshHz }: PointOf,
  data: MatrixData,
  recipe: Pick<Recipe, 'darkCode'>,
): MeasuredPoint {
  const meanOver = (measure: MeasureId): SummaryValue => meanOf(cellMeans(data, measure))
  const durations = cellMeans(data, 'transition_duration_s')
  const overshoots = cellMeans(data, 'overshoot_pct')
  const { darkMean, riseMean, fallMean } = meansByDirection(durations, recipe.darkCode)
  const figures: Record<FigureId, SummaryValue> = {
    duration_mean: meanOf(durations),
    duration_worst: worstOf(durations, 'transition_duration_s'),
    in_window_share: inWindowShareOf(data),
    overshoot_mean: meanOf(overshoots),
    overshoot_worst: worstOf(overshoots, 'overshoot_pct'),
    dark_mean: darkMean,
    rise_mean: riseMean,
    fall_mean: fallMean,
    first_frame_mean: meanOver('first_frame_completion_pct'),
    blur_edge_mean: meanOver('blur_edge_s'),
    crosstalk_mean: meanOver('first_pulse_crosstalk_pct'),
  }
  return {
    sweepId,
    setting,
    refreshHz,
    figures: Object.fromEntries(
      Object.entries(figures).map(([id, value]) => [id, estimateOf(value)]),
    ) as MeasuredPoint['figures'],
  }
}

/** A summary's degrees of freedom are those of its own and the common part together; here they are wanted of its own. */
function estimateOf({ value, cells, u, dof, common, u95 }: SummaryValue): Estimate | null {
  if (value === null) return null
  // A share has an interval of its own kind and no standard uncertainty: half its width at 95 % stands for it.
  if (u === null && u95 !== null && dof === null) return { value, u: u95 / Z95, dof: WELL_KNOWN, shared: common }
  // One transition alone: Student's factor is exact for its repeats, few as they are (4.3 for two degrees of freedom).
  const alone = cells === 1 && u !== null && dof !== null && dof >= LEAST_DOF
  if (dof === null || (u95 === null && !alone)) return { value, u: null, dof: 0, shared: common }
  const own = u ?? 0
  const share = own === 0 ? 1 : own / Math.hypot(own, common)
  return { value, u: own, dof: own === 0 ? WELL_KNOWN : Math.min(WELL_KNOWN, dof * share ** 4), shared: common }
}

const LEAST_DOF = 2

/** Two-sided 95 % point of the normal distribution. */
const Z95 = 1.959963984540054
