/** Short transitions captured again at every visit, so that a setting nobody changed is found before a sweep is spent on it. */
import type { MeasureInput } from '#shared/domain/measure-input.ts'
import type { SweepPlan, Transition } from '#shared/domain/plan.ts'
import { transitionsOf } from '#shared/domain/plan.ts'
import type { Recipe } from '#shared/domain/recipe.ts'
import type { Result } from '#shared/domain/result.ts'
import type { LevelChanger } from '../level-changer.ts'
import type { Clock, Digitizer } from '../ports.ts'
import { recordTransition } from '../record.ts'

export const CANARY_REPEATS = 3
const CANARIES = 4

/** Durations of one transition at one visit, s. */
export interface Canary extends Transition {
  readonly durationsS: readonly number[]
}

/**
 * Four pairs that a boosted drive changes most: full and middling steps, up and down, away from where the drive
 * saturates. A chain, so that each begins where the one before ended.
 */
export function canaryPairs(levels: readonly number[]): Transition[] {
  const sorted = [...levels].sort((a, b) => a - b)
  const last = sorted.length - 1
  const at = (index: number): number => sorted[index] as number
  const [low, middle, high] = [at(Math.floor(0.25 * last)), at(Math.round(0.5 * last)), at(Math.ceil(0.75 * last))]
  const chain = [low, high, middle, high, low].filter((level, i, all) => i === 0 || level !== all[i - 1])
  const pairs = chain.slice(1).map((to, i) => ({ from: chain[i] as number, to }))
  return pairs.length > 0 ? pairs.slice(0, CANARIES) : transitionsOf(sorted).slice(0, CANARIES)
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
  for (let repeat = 0; repeat < CANARY_REPEATS; repeat++) {
    for (const [i, pair] of pairs.entries()) {
      if (changer.level !== pair.from) {
        await changer.change(pair.from, signal)
        await clock.sleep(plan.ladderSettleS, signal)
      }
      const { recording } = await recordTransition(deps, plan, pair, { source: 'bus' }, signal)
      const { values } = await deps.measure({
        trace: recording.trace,
        triggerIndex: recording.triggerIndex,
        ...pair,
        refreshHz: plan.refreshHz,
        ladder: null,
        edgeAtTrigger: false,
        recipe,
      })
      const duration = values.transition_duration_s
      if (duration !== null && duration > 0) durations[i]?.push(duration)
    }
  }
  return pairs.flatMap((pair, i) => {
    const durationsS = durations[i] as number[]
    return durationsS.length >= 2 ? [{ ...pair, durationsS }] : []
  })
}

/** The pairs both visits have, in the same order. */
export function paired(a: readonly Canary[], b: readonly Canary[]): [before: number[][], after: number[][]] {
  const before: number[][] = []
  const after: number[][] = []
  for (const old of a) {
    const now = b.find(({ from, to }) => from === old.from && to === old.to)
    if (now === undefined) continue
    before.push([...old.durationsS])
    after.push([...now.durationsS])
  }
  return [before, after]
}
