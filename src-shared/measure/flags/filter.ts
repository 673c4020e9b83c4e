import type { MeasureInput } from '../../domain/measure-input.ts'
import type { Analysis } from '../analysis.ts'
import { broadening, durationBiasPct, RINGING_LIMIT_PCT } from '../broadening.ts'
import type { Times } from '../measure-times.ts'
import type { CollectedFlags } from './collected.ts'
import { LIMITS } from './budget.ts'
import { ms, pct } from './words.ts'

/** What the recipe's own conditioning does to the numbers: a filter that overshoots, a duration it lengthens. */
export function flagFilter(
  flags: CollectedFlags,
  input: MeasureInput,
  analysis: Partial<Analysis>,
  times: Times | null,
): void {
  const { condition, duration } = input.recipe
  const { rate, dt, conditioned } = analysis
  if (!rate || !dt) return
  const rippleHz = conditioned?.frequency ? conditioned.frequency * rate : null
  const own = broadening(condition, rate, rippleHz)
  if (!own) return
  if (own.ringingPct > RINGING_LIMIT_PCT) {
    flags.raise({
      id: 'ringing-filter',
      evidence: `The filter overshoots an ideal step by ${pct(own.ringingPct)}; overshoot is therefore not measured.`,
      value: own.ringingPct,
      limit: RINGING_LIMIT_PCT,
      unit: '%',
      span: null,
    })
  }
  if (!times || times.duration === null || !(own.durationS > 0)) return
  const p = duration.kind === 'percent' ? duration.percent / 100 : 0.1
  const bias = durationBiasPct(own, times.duration * dt, p)
  if (bias <= LIMITS.biasPct) return
  flags.raise({
    id: 'conditioning-bias',
    evidence: `Conditioning alone turns a step into ${ms(own.durationS)}; it lengthens this duration of ${ms(times.duration * dt)} by about ${bias >= 100 ? 'all of it' : pct(bias)}.`,
    value: bias,
    limit: LIMITS.biasPct,
    unit: '%',
    span: null,
  })
}
