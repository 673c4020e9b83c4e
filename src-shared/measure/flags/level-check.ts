import type { Analysis } from '../analysis.ts'
import { ladderVolts } from '../ladder-curve.ts'
import { chanceOf, LIMITS, reachOf } from './budget.ts'
import { meanOver, periodLeft } from './plateaus.ts'
import { wanderOf } from './wander.ts'

/** A level of the step against the level the ladder gives for it. */
export interface LevelCheck {
  readonly side: 'before' | 'after'
  readonly level: number
  readonly measuredV: number
  readonly uV: number
  readonly expectedV: number
  /** Distance over the light that the ladder expects, %; 0 where it is too small to count. */
  readonly apartPct: number
  readonly window: readonly [number, number]
}

/** Chance of a false alarm of one of the two levels. */
export const LEVEL_CHANCE = chanceOf('ladder', 2)

/** Both levels against the ladder; empty without one, or where the levels themselves come from it. */
export function checkLevels(analysis: Analysis): LevelCheck[] {
  const { levels, input } = analysis
  const { ladder, from, to, recipe } = input
  if (!ladder || from === null || to === null || recipe.levels.kind === 'ladder') return []
  const values = ladder.steps.map((step) => step.meanV)
  const spanV = Math.max(...values) - Math.min(...values)
  const zero = ladder.darkV ?? 0
  const reach = reachOf(LEVEL_CHANCE, analysis.noise.dof)
  const period = periodLeft(analysis) || meanOver(analysis)
  return (
    [
      ['before', from, levels.beforeV, levels.uBeforeV, levels.beforeWindow],
      ['after', to, levels.afterV, levels.uAfterV, levels.afterWindow],
    ] as const
  ).flatMap(([side, level, measuredV, uV, window]) => {
    const expectedV = ladderVolts(ladder, level)
    if (expectedV === null) return []
    const difference = Math.abs(measuredV - expectedV)
    const light = Math.abs(expectedV - zero)
    // Between ladder and capture noise wanders further than within either.
    const wander = wanderOf(analysis.clock.series, ...window, period)
    const feigned = wander === null ? 0 : reachOf(LEVEL_CHANCE, wander.dof) * wander.farV
    const counts = difference >= Math.max(LIMITS.ladderSpan * spanV, reach * uV, feigned)
    return [
      {
        side,
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
