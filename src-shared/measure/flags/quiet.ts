import type { Analysis } from '../analysis.ts'
import type { Times } from '../measure-times.ts'

/**
 * Samples that the step has not touched: from the record's start to well before the onset, and the last `late` of the
 * dwell, or from `scales` 10–90 % durations after the edge on where that is more. The ends that a centred mean cannot
 * fill are left out.
 */
export function quietWindows(
  analysis: Analysis,
  times: Times,
  late: number,
  scales = Infinity,
): { readonly before: readonly [number, number]; readonly after: readonly [number, number] } {
  const { clock, levels, conditioned } = analysis
  const { n } = clock.series
  const margin = Math.ceil(conditioned.meanWidth / 2)
  const onset = (times.onset?.x ?? 0) - 0.25 * clock.scale - margin
  const settled = clock.mid + scales * clock.scale + margin
  const beforeEnd = Math.floor(Math.max(levels.beforeWindow[1], onset))
  return {
    before: [Math.min(margin, beforeEnd - 1), beforeEnd],
    after: [Math.min(n - 1, Math.ceil(Math.min(n - late * (n - clock.mid), settled))), Math.max(1, n - margin)],
  }
}
