/** Edges that came in another frame than those of their repeats. */
import { medianDeviation } from '../../signal/outliers.ts'
import { reachOf } from '../flags/budget.ts'
import { counts, deviationsOf, FALSE_ALARMS, type GroupFlag, type GroupRow } from './rows.ts'

/** Part of a refresh period by which an edge may be late. */
const LATE_LIMIT = 0.65

/**
 * `edge-out-of-frame` where the record starts with a bus trigger: from the stimulus' answer to the light edge every
 * capture of a transition takes the same time. One that takes 0.65 refresh periods longer (and longer than the spread of
 * that time in the sweep allows) was shown in a later frame than the stimulus says.
 */
export function lateFlags(cells: readonly GroupRow[][]): GroupFlag[] {
  const [low, mid] = ([0, 1] as const).map((which) => latenessOf(cells, which)) as [Lateness, Lateness]
  const reach = reachOf(FALSE_ALARMS / Math.max(1, low.late.size))
  return [...low.late].flatMap(([row, lowS]) => {
    const frameS = row.frameS ?? 0
    const midS = mid.late.get(row) ?? 0
    // A step that only takes longer has its low crossing where its repeats have theirs.
    const lateS = Math.abs(lowS) < Math.abs(midS) ? lowS : midS
    const limit = Math.max(LATE_LIMIT * frameS, reach * Math.max(low.spread, mid.spread))
    if (!(Math.abs(lateS) > limit) || lowS * midS < 0) return []
    const evidence =
      `The light edge comes ${(Math.abs(lateS) * 1e3).toPrecision(3)} ms ${lateS > 0 ? 'later' : 'earlier'} after the ` +
      `stimulus’ answer than in the other captures of this transition, ${Math.abs(lateS / frameS).toFixed(1)} refresh ` +
      'periods: it was not shown in the frame that was reported.'
    return [
      {
        captureId: row.info.id,
        flag: { id: 'edge-out-of-frame', evidence, value: lateS, limit, unit: 's', span: null },
      },
    ]
  })
}

interface Lateness {
  /** Time from the stimulus' answer to a crossing, less its median among the repeats, s. */
  readonly late: ReadonlyMap<GroupRow, number>
  /** Its robust standard deviation in the sweep, s. */
  readonly spread: number
}

function latenessOf(cells: readonly GroupRow[][], which: 0 | 1): Lateness {
  const all = deviationsOf(cells, ({ edgeS, sinceTriggerS, frameS }) =>
    edgeS && sinceTriggerS !== null && sinceTriggerS !== undefined && frameS
      ? { value: edgeS[which] - sinceTriggerS, u: 0 }
      : null,
  )
  return {
    late: new Map(all.map(({ row, value, cellMedian }) => [row, value - cellMedian])),
    spread: medianDeviation(all.filter(counts).map(({ value, cellMedian }) => value - cellMedian))?.sigma ?? 0,
  }
}
