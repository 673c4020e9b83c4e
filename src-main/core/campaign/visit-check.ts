/** Short transitions captured again at every visit, so that a setting nobody changed is found before a sweep is spent on it. */
import type { MeasureInput } from '#shared/domain/measure-input.ts'
import type { SweepPlan, Transition } from '#shared/domain/plan.ts'
import { transitionsOf } from '#shared/domain/plan.ts'
import type { Recipe } from '#shared/domain/recipe.ts'
import type { FlagId, Result } from '#shared/domain/result.ts'
import type { LevelChanger } from '../level-changer.ts'
import type { Clock, Digitizer } from '../ports.ts'
import { recordTransition } from '../record.ts'
import { checkRecord } from '../record-verdict.ts'

export const CANARY_REPEATS = 3
const CANARIES = 4
/** Times a record that does not hold its step is taken before its pair goes without it. */
const ATTEMPTS = 3
/** What makes the number of one record worthless here. */
const USELESS: readonly FlagId[] = ['small-step', 'wrong-direction', 'clipped', 'missing-samples', 'double-step']

/** Durations of one transition at one visit, s. */
export interface Canary extends Transition {
  readonly durationsS: readonly number[]
}

/** Narrower plans have no room between their levels. */
const LEAST_SPAN = 60

/**
 * Four pairs that a boosted drive changes most: large and middling steps up and down between the quarter points of the
 * plan's span. At its ends the drive saturates, every setting does the same, and a check would find nothing. A chain, so
 * that each begins where the one before ended.
 */
export function canaryPairs(levels: readonly number[]): Transition[] {
  const [least, most] = [Math.min(...levels), Math.max(...levels)]
  if (most - least < LEAST_SPAN) return transitionsOf([...levels].sort((a, b) => a - b)).slice(0, CANARIES)
  const at = (share: number): number => Math.round(least + share * (most - least))
  const [low, middle, high] = [at(0.25), at(0.5), at(0.75)]
  const chain = [low, high, middle, high, low]
  return chain.slice(1).map((to, i) => ({ from: chain[i] as number, to }))
}

export interface CanaryDeps {
  readonly digitizer: Digitizer
  readonly changer: LevelChanger
  readonly clock: Clock
  readonly measure: (input: MeasureInput) => Promise<Result>
  readonly recipe: Recipe
}

/**
 * Captures each pair `CANARY_REPEATS` times with the rig recording at once; nothing is stored. A pair whose duration
 * cannot be measured (a strobed display, a dead patch) is left out, so the answer may be empty.
 */
export async function takeCanaries(deps: CanaryDeps, plan: SweepPlan, signal: AbortSignal): Promise<Canary[]> {
  const { changer, clock, recipe } = deps
  const pairs = canaryPairs(plan.levels)
  const durations = pairs.map((): number[] => [])
  /** Null where the record does not hold the step as it is, as after a late change of the picture. */
  const durationOf = async (pair: Transition): Promise<number | null> => {
    const { recording, frameLog } = await recordTransition(deps, plan, pair, { source: 'bus' }, signal)
    const { values, landmarks, flags } = await deps.measure({
      trace: recording.trace,
      triggerIndex: recording.triggerIndex,
      ...pair,
      refreshHz: plan.refreshHz,
      ladder: null,
      edgeAtTrigger: false,
      recipe,
    })
    const { verdict } = checkRecord(recording.trace, landmarks.crossMidS, plan, pair, null)
    if (frameLog.dropped || verdict !== 'good' || flags.some(({ id }) => USELESS.includes(id))) return null
    return values.transition_duration_s
  }
  const goTo = async (level: number): Promise<void> => {
    if (changer.level === level) return
    await changer.change(level, signal)
    await clock.sleep(plan.ladderSettleS, signal)
  }
  for (let repeat = 0; repeat < CANARY_REPEATS; repeat++) {
    for (const [i, pair] of pairs.entries()) {
      for (let attempt = 0; attempt < ATTEMPTS; attempt++) {
        await goTo(pair.from)
        const duration = await durationOf(pair)
        if (duration === null) continue
        durations[i]?.push(duration)
        break
      }
    }
  }
  return pairs.flatMap((pair, i) => {
    const durationsS = durations[i] as number[]
    return durationsS.length >= 2 ? [{ ...pair, durationsS }] : []
  })
}

/** Durations of the pairs both visits have, in the same order; `whole` when neither has one that the other lacks. */
export function paired(
  a: readonly Canary[],
  b: readonly Canary[],
): { readonly before: number[][]; readonly after: number[][]; readonly whole: boolean } {
  const before: number[][] = []
  const after: number[][] = []
  for (const old of a) {
    const now = b.find(({ from, to }) => from === old.from && to === old.to)
    if (now === undefined) continue
    before.push([...old.durationsS])
    after.push([...now.durationsS])
  }
  return { before, after, whole: before.length === a.length && before.length === b.length }
}
