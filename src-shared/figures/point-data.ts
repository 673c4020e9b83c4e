import { u95Of } from '#shared/findings/campaign/estimate.ts'
import { type FigureId, FIGURES, type MeasuredPoint } from '#shared/findings/campaign/figures.ts'

/** The numbers a figure draws, as a table. */
export interface FigureData {
  readonly columns: readonly string[]
  readonly rows: readonly (readonly (string | number | null)[])[]
}

/** One figure of every sweep with its U95, in s or percent. */
export function pointData(points: readonly MeasuredPoint[], id: FigureId): FigureData {
  const suffix = FIGURES[id].unit === 's' ? 's' : 'pct'
  return {
    columns: ['setting', 'refresh_hz', `${id}_${suffix}`, `u95_${suffix}`],
    rows: points.map(({ setting, refreshHz, figures }) => {
      const estimate = figures[id]
      return [setting, refreshHz, estimate?.value ?? null, estimate === null ? null : u95Of(estimate)]
    }),
  }
}
