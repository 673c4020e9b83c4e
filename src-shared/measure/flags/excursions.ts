import type { Analysis } from '../analysis.ts'
import type { Shape } from '../measure-shape.ts'
import { spanOf, type CollectedFlags } from './collected.ts'

/** An excursion that may not be over where the search for it ends. */
export function flagExcursions(flags: CollectedFlags, analysis: Analysis, shape: Shape): void {
  const { excursions, end } = shape
  if (!excursions) return
  const { clock } = analysis
  const margin = Math.max(3, 0.01 * (end - clock.mid))
  for (const name of ['overshoot', 'undershoot'] as const) {
    const side = excursions[name]
    if (side.at === null || side.span === null) continue
    if (side.at < end - 1 - margin && side.length !== null) continue
    flags.raise({
      id: 'edge-of-record',
      evidence: `The ${name} lies at the end of what is recorded before the end level’s window and may not be over.`,
      value: (end - 1 - side.at) * analysis.dt,
      limit: margin * analysis.dt,
      unit: 's',
      span: spanOf(analysis, side.span[0], side.span[1]),
    })
    return
  }
}
