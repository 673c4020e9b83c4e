import type { Analysis } from '../analysis.ts'
import { spanOf, type CollectedFlags } from './collected.ts'
import { checkLevels } from './level-check.ts'
import { LIMITS } from './budget.ts'
import { saturationOf } from './saturation.ts'
import { pct, volts } from './words.ts'

/** Levels that differ from the ladder, and whether a detector that saturates would explain it. */
export function flagLadder(flags: CollectedFlags, analysis: Analysis): void {
  // Of a step in two parts the first may have been taken for the level before it.
  const checks = checkLevels(analysis).filter(({ side }) => side === 'after' || !flags.has('double-step'))
  if (checks.length === 0) return
  const worst = checks.reduce((a, b) => (b.apartPct > a.apartPct ? b : a))
  if (worst.apartPct > LIMITS.ladderPct) {
    flags.raise({
      id: 'ladder-disagrees',
      evidence: `Level ${worst.level} reads ${volts(worst.measuredV)}, the ladder ${volts(worst.expectedV)}: ${pct(worst.apartPct)} apart.`,
      value: worst.apartPct,
      limit: LIMITS.ladderPct,
      unit: '%',
      span: spanOf(analysis, worst.window[0], worst.window[1] - 1),
    })
  }
  // A rail, a drift or a dwell that ended too early make a level read low as well, and are told by their own flags.
  if (flags.has('clipped') || flags.has('plateau-drift') || flags.has('plateau-not-reached')) return
  const saturated = saturationOf(analysis, checks)
  if (saturated === null) return
  const { bright, lowPct, limitPct, told } = saturated
  const darker = told
    ? 'and the darker level does not in proportion'
    : 'and the other level is too dark to tell it from less light'
  flags.raise({
    id: 'saturation',
    evidence: `Level ${bright.level} reads ${volts(bright.measuredV)}, ${pct(lowPct)} under the ladder’s ${volts(bright.expectedV)}, ${darker}: the detector or amplifier probably saturates.`,
    value: lowPct,
    limit: limitPct,
    unit: '%',
    span: spanOf(analysis, bright.window[0], bright.window[1] - 1),
  })
}
