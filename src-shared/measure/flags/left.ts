import { MEASURES } from '../../domain/measures.ts'
import type { FlagId } from '../../domain/result.ts'
import type { Analysis } from '../analysis.ts'
import type { LeftEvidence } from '../residuals.ts'
import { LIMITS } from './budget.ts'
import type { CollectedFlags } from './collected.ts'
import { ms } from './words.ts'

/** Flags that say the same of a part with its own number. */
const TOLD: Readonly<Partial<Record<LeftEvidence['kind'], FlagId>>> = { hum: 'hum', drift: 'plateau-drift' }

/**
 * What the recipe leaves in the trace and the uncertainties therefore hold: how much it moves the measure it moves most,
 * and what would remove it. Lines are there by the line test, a drift where it is the same before and after the step
 * (`drifts`); a tail has its own flag, and what of it is under that flag's limit is in the uncertainties only, as are
 * changes that noise which wanders may explain.
 */
export function flagLeft(
  doubts: CollectedFlags,
  analysis: Analysis,
  left: readonly LeftEvidence[],
  drifts: boolean,
): void {
  const { kind } = analysis.input.recipe.condition
  // What a mean over its period leaves is how the step's own phase shifts its crossings: in the uncertainties.
  const removed = kind === 'one-period-mean' || kind === 'divide'
  let worst: { readonly one: LeftEvidence; readonly over: number } | null = null
  for (const one of left) {
    const told = TOLD[one.kind]
    if (removed && one.kind === 'ripple') continue
    if (one.kind === 'tail' || (one.kind === 'drift' && !drifts) || (told !== undefined && doubts.has(told))) continue
    const over = one.u / limitOf(one)
    if (over > 1 && (worst === null || over > worst.over)) worst = { one, over }
  }
  if (worst === null) return
  const { one } = worst
  const { label, unit } = MEASURES[one.measure]
  doubts.raise({
    id: 'left-in-trace',
    evidence:
      `${wordsOf(analysis, one.kind)} is left in the trace; it makes the ${label[0]!.toLowerCase()}${label.slice(1)} uncertain by ` +
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
  if (kind === 'ripple')
    return `Ripple${plateaus.ripple ? ` of ${(plateaus.ripple.fundamental * rate).toPrecision(4)} Hz` : ''}`
  return kind === 'hum' ? 'A line such as mains hum' : 'Drift'
}

function remedyOf({ plateaus, rate }: Analysis, kind: LeftEvidence['kind']): string {
  if (kind === 'ripple') {
    const period = plateaus.ripple ? ` of ${ms(1 / (plateaus.ripple.fundamental * rate))}` : ''
    return `A recipe with the mean over one ripple period${period}, or divided by the backlight’s waveform, would remove it.`
  }
  if (kind === 'hum')
    return 'A mean over one of its periods would remove it; better keep it away from detector and cable.'
  return 'No recipe removes it: let display and lamp warm up, or record a shorter time.'
}
