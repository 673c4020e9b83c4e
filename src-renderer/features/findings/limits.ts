import { type FigureId, FIGURES, type Limits } from '#shared/findings/campaign/figures.ts'
import type { Limit } from '#shared/findings/campaign/limits.ts'

/** A figure that can be limited, and over which values a slider goes; in the figure's unit. */
export interface LimitRange {
  readonly id: FigureId
  readonly bound: Limit['bound']
  readonly start: number
  readonly min: number
  readonly max: number
  readonly step: number
}

export const LIMITED: readonly LimitRange[] = [
  { id: 'in_window_share', bound: 'at-least', start: 80, min: 0, max: 100, step: 1 },
  { id: 'overshoot_mean', bound: 'at-most', start: 5, min: 0, max: 50, step: 0.5 },
  { id: 'overshoot_worst', bound: 'at-most', start: 15, min: 0, max: 200, step: 1 },
  { id: 'duration_mean', bound: 'at-most', start: 0.006, min: 0, max: 0.03, step: 0.0001 },
  { id: 'dark_mean', bound: 'at-most', start: 0.01, min: 0, max: 0.05, step: 0.0001 },
]

/** The limits with one set, or taken away. */
export function withLimit(limits: Limits, id: FigureId, limit: Limit | null): Limits {
  const { [id]: _before, ...others } = limits
  return limit === null ? others : { ...others, [id]: limit }
}

/** Where a limit on any figure may lie; for figures that no switch limits, as wide as their unit allows. */
export const rangeOf = (id: FigureId): LimitRange =>
  LIMITED.find((range) => range.id === id) ??
  (FIGURES[id].unit === 's'
    ? { id, bound: 'at-most', start: 0.01, min: 0, max: 0.1, step: 0.0001 }
    : { id, bound: 'at-most', start: 5, min: 0, max: 200, step: 0.5 })

/** The nearest value a range has: within its ends and a whole number of steps. */
export function stepped({ min, max, step }: LimitRange, value: number): number {
  const steps = Math.round((Math.min(max, Math.max(min, value)) - min) / step)
  return Number((min + steps * step).toPrecision(12))
}
