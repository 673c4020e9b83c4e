import { MEASURES } from '../../domain/measures.ts'
import type { FlagId } from '../../domain/result.ts'
import type { Analysis } from '../analysis.ts'
import type { LeftEvidence } from '../residuals.ts'
import { LIMITS } from './budget.ts'
import type { Doubts } from './doubts.ts'
import { ms } from './words.ts'

/** Flags that say the same of a part with its own number. */
const TOLD: Readonly<Partial<Record<LeftEvidence['kind'], FlagId>>> = {
  hum: 'hum',
  drift: 'plateau-drift',
  tail: 'plateau-not-reached',
}

/**
 * What the recipe leaves in the trace and the uncertainties therefore hold: how much it moves the measure it moves most,
 * and what would remove it. Whether it is there at all is decided where it is found; here only whether it matters.
 */
export function flagLeft(doubts: Doubts, analysis: Analysis, left: readonly LeftEvidence[]): void {
  let worst: { readonly one: LeftEvidence; readonly over: number } | null = null
  for (const one of left) {
    const told = TOLD[one.kind]
    if (told !== undefined && doubts.has(told)) continue
    const over = one.u / limitOf(one)
    if (over > 1 && (worst === null || over > worst.over)) worst = { one, over }
  }
  if (worst === null) return
  const { one } = worst
  const { label, unit } = MEASURES[one.measure]
  doubts.raise({
    id: 'left-in-trace',
    evidence:
      `${wordsOf(analysis, one.kind)} is left in the trace; it makes the ${label.toLowerCase()} uncertain by ` +
      `${unit === 's' ? ms(one.u) : `${one.u.toPrecision(2)} ${unit}`} (standard uncertainty). ${remedyOf(analysis, one.kind)}`,
    value: one.u,
    limit: limitOf(one),
    unit,
    span: null,
  })
}

/** Times: a share of themselves; shares of the step: points. */
function limitOf({ measure, value }: LeftEvidence): number {
  return MEASURES[measure].unit === 's' ? LIMITS.leftTimes * Math.abs(value) : LIMITS.leftPoints
}

function wordsOf({ plateaus, rate }: Analysis, kind: LeftEvidence['kind']): string {
  if (kind === 'ripple') return `Ripple${plateaus.ripple ? ` of ${(plateaus.ripple.fundamental * rate).toPrecision(4)} Hz` : ''}`
  return kind === 'hum' ? 'A line such as mains hum' : kind === 'drift' ? 'Drift' : 'A tail'
}

function remedyOf({ plateaus, rate, input }: Analysis, kind: LeftEvidence['kind']): string {
  if (kind === 'ripple') {
    if (input.recipe.condition.kind === 'one-period-mean') return 'A mean over its period does not take all of it out.'
    const period = plateaus.ripple ? ` of ${ms(1 / (plateaus.ripple.fundamental * rate))}` : ''
    return `A recipe with the mean over one ripple period${period}, or divided by the backlight’s waveform, would remove it.`
  }
  if (kind === 'hum') return 'A mean over one of its periods would remove it; better keep it away from detector and cable.'
  if (kind === 'drift') return 'No recipe removes it: let display and lamp warm up, or record a shorter time.'
  return 'A longer dwell would remove it.'
}
