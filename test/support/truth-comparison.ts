/** A stored sweep against the simulator's noise-free truth, which is computed without any of the measuring code. */
import { truthNumbers, truthOf } from '../simulated/truth.ts'
import type { PanelId, SimSetting } from '#shared/domain/rig.ts'
import type { MatrixData } from '#shared/domain/views.ts'

export interface TruthComparison {
  /** Mean transition duration over all cells, s: measured and true. */
  readonly measuredMeanS: number
  readonly trueMeanS: number
  readonly meanErrorPct: number
  /** Largest error of a cell's mean duration, percent of the true one. */
  readonly worstDurationPct: number
  readonly worstDurationCell: string
  /** Largest error of a cell's mean overshoot, percentage points. */
  readonly worstOvershootPoints: number
  readonly worstOvershootCell: string
  readonly worstSettlingPct: number
}

const mean = (values: readonly number[]): number => values.reduce((sum, value) => sum + value, 0) / values.length

/** Undefined durations count as an error: every cell must have a number. */
export function compareWithTruth(
  matrix: MatrixData,
  display: { panel: PanelId; setting: SimSetting; refreshHz: number },
): TruthComparison {
  const cells = matrix.cells.map(({ from, to, entries }) => {
    const truth = truthNumbers(truthOf({ ...display, from, to }))
    const of = (id: 'transition_duration_s' | 'overshoot_pct' | 'settling_s'): number =>
      mean(entries.map((entry) => entry.values[id] ?? NaN))
    const durationS = of('transition_duration_s')
    const settlingS = of('settling_s')
    return {
      name: `${from} → ${to}`,
      durationS,
      trueS: truth.durationS,
      durationPct: Math.abs(100 * (durationS / truth.durationS - 1)),
      overshootPoints: Math.abs(of('overshoot_pct') - truth.overshootPct),
      settlingPct: Math.abs(100 * (settlingS / (truth.settledAtS - truth.onsetS) - 1)),
    }
  })
  const worst = (by: 'durationPct' | 'overshootPoints'): (typeof cells)[number] =>
    cells.reduce((a, b) => (b[by] > a[by] || Number.isNaN(b[by]) ? b : a))
  const measuredMeanS = mean(cells.map((cell) => cell.durationS))
  const trueMeanS = mean(cells.map((cell) => cell.trueS))
  return {
    measuredMeanS,
    trueMeanS,
    meanErrorPct: 100 * (measuredMeanS / trueMeanS - 1),
    worstDurationPct: worst('durationPct').durationPct,
    worstDurationCell: worst('durationPct').name,
    worstOvershootPoints: worst('overshootPoints').overshootPoints,
    worstOvershootCell: worst('overshootPoints').name,
    worstSettlingPct: Math.max(...cells.map((cell) => cell.settlingPct)),
  }
}
