/**
 * Whether a drawn defect does harm: it must change a number that the program reports by a fixed amount. The same capture
 * made without the defect (same noise, same phases) tells. What the program states as its own uncertainty plays no part,
 * so a program that is too sure, or too unsure, of itself does not choose what it is tested on.
 */
import { measureCapture } from '#shared/measure/measure-capture.ts'
import type { MeasureId } from '#shared/domain/measures.ts'
import type { Result } from '#shared/domain/result.ts'
import type { WalkStep } from '#shared/domain/walk.ts'
import { inputOf, makeCapture } from './capture.ts'
import type { Defect } from './plant.ts'
import { REPEATS, type Setup } from './setups.ts'

/** Change that counts: of times a share of the sound duration, of shares of the step points. */
export const TIME_SHARE = 0.02
export const OVERSHOOT_POINTS = 0.5
const TIMES: readonly MeasureId[] = ['transition_duration_s', 'arrival_s', 'settling_s']

export function matters(setup: Setup, step: WalkStep, defect: Defect): boolean {
  const { kind } = defect
  // Lost samples and a late frame are faults of the record wherever they lie; neither needs to change a number.
  if (kind === 'dropped-samples' || kind === 'dropped-frame') return true
  const sound = measured(setup, step, null)
  const spoilt = measured(setup, step, defect)
  // One outlier among its repeats has to move their mean by as much.
  return kind === 'outlier'
    ? movesTime(sound, spoilt, 'transition_duration_s', REPEATS * TIME_SHARE)
    : TIMES.some((id) => movesTime(sound, spoilt, id, TIME_SHARE)) || movesOvershoot(sound, spoilt)
}

function measured(setup: Setup, step: WalkStep, defect: Defect | null): Result {
  return measureCapture(inputOf(setup, makeCapture(setup, step, defect)))
}

/** Change of a time by a share of the sound duration, or a number that became undefined (or defined). */
function movesTime(sound: Result, spoilt: Result, id: MeasureId, share: number): boolean {
  const a = sound.values[id]
  const b = spoilt.values[id]
  if (a === null || b === null) return a !== b
  return Math.abs(a - b) > share * (sound.values.transition_duration_s ?? a)
}

function movesOvershoot(sound: Result, spoilt: Result): boolean {
  const a = sound.values.overshoot_pct
  const b = spoilt.values.overshoot_pct
  if (a === null || b === null) return a !== b
  return Math.abs(a - b) > OVERSHOOT_POINTS
}
