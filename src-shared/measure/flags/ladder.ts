import type { Analysis } from '../analysis.ts'
import { ladderVolts } from '../ladder-curve.ts'
import { spanOf, type Doubts } from './doubts.ts'
import { LIMITS } from './limits.ts'
import { saturationOf } from './saturation.ts'
import { pct, volts } from './words.ts'

/** A level of the step against the level the ladder gives for it. */
export interface LevelCheck {
  readonly level: number
  readonly measuredV: number
  readonly uV: number
  readonly expectedV: number
  /** Distance over the light that the ladder expects, %; 0 where it is too small to count. */
  readonly apartPct: number
  readonly window: readonly [number, number]
}

/** Near black, 3 % of next to nothing is not a disagreement: this share of the ladder's span is the least that counts. */
const LEAST_OF_SPAN = 0.002

/** Both levels against the ladder; empty without one, or where the levels themselves come from it. */
export function checkLevels(analysis: Analysis): LevelCheck[] {
  const { levels, input } = analysis
  const { ladder, from, to, recipe } = input
  if (!ladder || from === null || to === null || recipe.levels.kind === 'ladder') return []
  const values = ladder.steps.map((step) => step.meanV)
  const spanV = Math.max(...values) - Math.min(...values)
  const zero = ladder.darkV ?? 0
  return (
    [
      [from, levels.beforeV, levels.uBeforeV, levels.beforeWindow],
      [to, levels.afterV, levels.uAfterV, levels.afterWindow],
    ] as const
  ).flatMap(([level, measuredV, uV, window]) => {
    const expectedV = ladderVolts(ladder, level)
    if (expectedV === null) return []
    const difference = Math.abs(measuredV - expectedV)
    const light = Math.abs(expectedV - zero)
    const counts = difference >= LEAST_OF_SPAN * spanV && difference >= 4 * uV
    return [
      {
        level,
        measuredV,
        uV,
        expectedV,
        apartPct: counts ? (light > 0 ? (100 * difference) / light : 100) : 0,
        window,
      },
    ]
  })
}

/** Levels that differ from the ladder, and whether a detector that saturates would explain it. */
export function flagLadder(doubts: Doubts, analysis: Analysis): void {
  const checks = checkLevels(analysis)
  if (checks.length === 0) return
  const worst = checks.reduce((a, b) => (b.apartPct > a.apartPct ? b : a))
  if (worst.apartPct > LIMITS.ladderPct) {
    doubts.raise({
      id: 'ladder-disagrees',
      evidence: `Level ${worst.level} reads ${volts(worst.measuredV)}, the ladder ${volts(worst.expectedV)}: ${pct(worst.apartPct)} apart.`,
      value: worst.apartPct,
      limit: LIMITS.ladderPct,
      unit: '%',
      span: spanOf(analysis, worst.window[0], worst.window[1] - 1),
    })
  }
  // A rail, a drift or a dwell that ended too early make a level read low as well, and are told by their own flags.
  if (doubts.has('clipped') || doubts.has('plateau-drift') || doubts.has('plateau-not-reached')) return
  const saturated = saturationOf(analysis, checks)
  if (saturated === null) return
  const { bright, lowPct, limitPct, told } = saturated
  const darker = told
    ? 'and the darker level does not in proportion'
    : 'and the other level is too dark to tell it from less light'
  doubts.raise({
    id: 'saturation',
    evidence: `Level ${bright.level} reads ${volts(bright.measuredV)}, ${pct(lowPct)} under the ladder’s ${volts(bright.expectedV)}, ${darker}: the detector or amplifier probably saturates.`,
    value: lowPct,
    limit: limitPct,
    unit: '%',
    span: spanOf(analysis, bright.window[0], bright.window[1] - 1),
  })
}
