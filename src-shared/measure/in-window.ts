/** Whether a transition fits the refresh window: yes, no, or undecided within its uncertainty. */
import { UNDECIDED } from '../domain/result.ts'
import type { Analysis } from './analysis.ts'
import type { ResultBuilder } from './result-builder.ts'
import { UNSETTLED } from './settling.ts'
import type { Crossing } from './timing.ts'

/** U95 over u. */
const COVERAGE = 2

export function measureInWindow(
  out: ResultBuilder,
  analysis: Analysis,
  onset: Crossing | null,
  arrival: Crossing | null,
): void {
  const { frame, input, dt, raw } = analysis
  const { of, tolerancePct } = input.recipe.inWindow
  if (frame === null) {
    out.lack('in_window', 'The refresh rate is not known.')
    return
  }
  const limit = frame * dt * (1 + tolerancePct / 100)
  const value = out.value(of === 'settling' ? 'settling_s' : 'arrival_s')
  if (value !== null) {
    const u = out.uncertainty(of === 'settling' ? 'settling_s' : 'arrival_s') ?? 0
    if (Math.abs(value - limit) <= COVERAGE * u) out.lack('in_window', UNDECIDED)
    else out.set('in_window', value <= limit ? 1 : 0)
    return
  }
  // Never settling within a record longer than the window answers the question.
  const recorded = onset === null ? 0 : (raw.n - 1 - onset.x) * dt
  const unsettled = out.reason('settling_s') === UNSETTLED
  const never = of === 'settling' ? arrival !== null && unsettled : onset !== null && arrival === null
  if (never && recorded > limit) out.set('in_window', 0)
  else out.lack('in_window', out.reason(of === 'settling' ? 'settling_s' : 'arrival_s') ?? 'It is not defined.')
}
