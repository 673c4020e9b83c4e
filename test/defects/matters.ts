/**
 * Whether a drawn defect does harm: it must change a number that the program reports by more than the uncertainty the
 * program states for it. The same capture made without the defect (same noise, same phases) tells.
 */
import { measureCapture } from '#shared/measure/measure-capture.ts'
import type { MeasureId } from '#shared/domain/measures.ts'
import type { Result } from '#shared/domain/result.ts'
import type { WalkStep } from '#shared/domain/walk.ts'
import { meanUncertainty } from '#shared/signal/statistics.ts'
import { inputOf, makeCapture } from './capture.ts'
import type { Defect } from './plant.ts'
import { REPEATS, type Setup } from './setups.ts'

const NUMBERS: readonly MeasureId[] = ['transition_duration_s', 'arrival_s', 'settling_s', 'overshoot_pct']
/** Coverage factor of a capture's expanded uncertainty. */
const COVERAGE = 2

export function matters(setup: Setup, walk: readonly WalkStep[], step: WalkStep, defect: Defect): boolean {
  const { kind } = defect
  // Lost samples and a late frame are faults of the record wherever they lie; neither needs to change a number.
  if (kind === 'dropped-samples' || kind === 'dropped-frame') return true
  if (kind === 'outlier') return movesItsCell(setup, walk, step, defect)
  return changesANumber(measured(setup, step, null), measured(setup, step, defect))
}

function measured(setup: Setup, step: WalkStep, defect: Defect | null): Result {
  return measureCapture(inputOf(setup, makeCapture(setup, step, defect)))
}

function changesANumber(sound: Result, spoilt: Result): boolean {
  return NUMBERS.some((id) => {
    const a = sound.values[id]
    const b = spoilt.values[id]
    if (a === null || b === null) return a !== b
    return Math.abs(a - b) > COVERAGE * (sound.uncertainties[id] ?? 0)
  })
}

/** One outlier among its repeats moves their mean by more than the U95 that the program states for the sound mean. */
function movesItsCell(setup: Setup, walk: readonly WalkStep[], step: WalkStep, defect: Defect): boolean {
  const id = 'transition_duration_s'
  const spoilt = measured(setup, step, defect).values[id]
  const cell = walk.filter((one) => one.from === step.from && one.to === step.to)
  const sound = cell.flatMap((one) => {
    const value = measured(setup, one, null).values[id]
    return value === null ? [] : [{ one, value }]
  })
  const own = sound.find(({ one }) => one.position === step.position)
  if (spoilt === null || own === undefined || sound.length < REPEATS) return false
  const { u95 } = meanUncertainty(sound.map(({ value }) => value))
  return u95 !== null && Math.abs(spoilt - own.value) / sound.length > u95
}
