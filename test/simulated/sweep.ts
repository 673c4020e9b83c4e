/** A six-level sweep through rig manager, stimulus and recording, held against the truth. */
import { createLevelChanger } from '#main/core/level-changer.ts'
import type { Clock, Log, Rig, Stimulus } from '#main/core/ports.ts'
import { recordLadder, recordTransition, triggerFor } from '#main/core/record.ts'
import { truthNumbers, truthOf } from './truth.ts'
import { sweepPlanSchema, transitionsOf, type SweepPlan, type SweepPlanInput } from '#shared/domain/plan.ts'
import { DEFAULT_RECIPE } from '#shared/domain/recipe.ts'
import type { PanelId, SimSetting } from '#shared/domain/rig.ts'
import type { Result } from '#shared/domain/result.ts'
import { measureCapture } from '#shared/measure/measure-capture.ts'

export const SILENT: Log = { info: () => undefined, warn: () => undefined, error: () => undefined }

export function planOf(changes: Partial<SweepPlanInput> = {}): SweepPlan {
  return sweepPlanSchema.parse({
    setting: 'Strong',
    refreshHz: 144,
    levels: [0, 51, 102, 153, 204, 255],
    repeats: 1,
    preS: 0.02,
    postS: 0.12,
    spacingS: 0.13,
    sampleRateHz: 50_000,
    rangeV: 5,
    ladderSettleS: 0.1,
    ladderS: 0.05,
    flashLimitLifted: true,
    ...changes,
  })
}

export interface SweptCell {
  readonly from: number
  readonly to: number
  readonly result: Result
}

export async function sweepOnce(rig: Rig, stimulus: Stimulus, clock: Clock, plan: SweepPlan): Promise<SweptCell[]> {
  const signal = new AbortController().signal
  await stimulus.prepare(plan, signal)
  const changer = createLevelChanger(stimulus, clock, plan)
  const deps = { digitizer: rig.digitizer(), changer, clock }
  const ladder = { ...(await recordLadder(deps, plan, clock.iso(), signal)), darkV: null }
  const cells: SweptCell[] = []
  for (const pair of transitionsOf(plan.levels)) {
    if (changer.level !== pair.from) {
      await changer.change(pair.from, signal)
      await clock.sleep(plan.ladderSettleS, signal)
    }
    const trigger = triggerFor(plan, pair, ladder)
    const { recording, edgeAtTrigger } = await recordTransition(deps, plan, pair, trigger, signal)
    const result = measureCapture({
      trace: recording.trace,
      triggerIndex: recording.triggerIndex,
      from: pair.from,
      to: pair.to,
      refreshHz: plan.refreshHz,
      ladder,
      edgeAtTrigger,
      recipe: DEFAULT_RECIPE,
    })
    cells.push({ ...pair, result })
  }
  return cells
}

export interface Comparison {
  readonly cells: number
  readonly meanS: number
  readonly trueMeanS: number
  /** Relative difference of the matrix means, and the largest of a single cell. */
  readonly meanError: number
  readonly worstError: number
  /** Difference of the mean overshoot, and the largest of a single cell, percentage points of the step. */
  readonly overshootError: number
  readonly worstOvershootError: number
}

function mean(values: readonly number[]): number {
  return values.reduce((a, b) => a + b, 0) / values.length
}

export function compareWithTruth(panel: PanelId, plan: SweepPlan, cells: readonly SweptCell[]): Comparison {
  const rows = cells.map(({ from, to, result }) => {
    const setting = plan.setting as SimSetting
    const truth = truthNumbers(truthOf({ panel, setting, refreshHz: plan.refreshHz, from, to }))
    return {
      duration: result.values.transition_duration_s ?? Number.NaN,
      trueDuration: truth.durationS,
      overshoot: result.values.overshoot_pct ?? Number.NaN,
      trueOvershoot: truth.overshootPct,
    }
  })
  const meanS = mean(rows.map((row) => row.duration))
  const trueMeanS = mean(rows.map((row) => row.trueDuration))
  return {
    cells: rows.length,
    meanS,
    trueMeanS,
    meanError: Math.abs(meanS / trueMeanS - 1),
    worstError: Math.max(...rows.map((row) => Math.abs(row.duration / row.trueDuration - 1))),
    overshootError: Math.abs(mean(rows.map((row) => row.overshoot)) - mean(rows.map((row) => row.trueOvershoot))),
    worstOvershootError: Math.max(...rows.map((row) => Math.abs(row.overshoot - row.trueOvershoot))),
  }
}
