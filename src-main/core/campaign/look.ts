/** A look at the display after a change: its refresh rate, and four transitions against what is known of earlier visits. */
import type { Visit } from '#shared/domain/campaign-plan.ts'
import { toErrorDetail } from '#shared/domain/errors.ts'
import type { MeasureInput } from '#shared/domain/measure-input.ts'
import { hertz } from '#shared/domain/quantity-text.ts'
import type { Recipe } from '#shared/domain/recipe.ts'
import type { Result } from '#shared/domain/result.ts'
import type { RunQuestion } from '#shared/domain/run.ts'
import type { Hub } from '../hub.ts'
import { createLevelChanger } from '../level-changer.ts'
import type { Clock, Rig, Stimulus, Store } from '../ports.ts'
import { takeCanaries } from './visit-check.ts'
import { canaryReadings, earlierCanaries, judgeVisit } from './visit-history.ts'

export interface Looked {
  readonly kind: RunQuestion['kind']
  readonly reason: string
}

/** Null when all is as it should be, and the transitions are kept; otherwise what speaks against it. */
export type Look = (
  at: { readonly campaignId: number; readonly sweepId: number; readonly visit: Visit; readonly marginPct: number },
  signal: AbortSignal,
) => Promise<Looked | null>

export function createLook(deps: {
  readonly store: Store
  readonly hub: Hub
  readonly rig: Rig
  readonly stimulus: Stimulus
  readonly clock: Clock
  readonly measure: (input: MeasureInput) => Promise<Result>
  readonly recipe: () => Recipe
}): Look {
  const { store, hub, rig, stimulus, clock } = deps
  return async ({ campaignId, sweepId, visit, marginPct }, signal) => {
    const { plan } = await store.sweep({ sweepId })
    try {
      await stimulus.prepare(plan, signal)
    } catch (error) {
      const { code, message } = toErrorDetail(error)
      if (code === 'stimulus-mismatch') return { kind: 'refresh', reason: message }
      throw error
    }
    const changer = createLevelChanger(stimulus, clock, plan)
    const canaries = await takeCanaries(
      { digitizer: rig.digitizer(), changer, clock, measure: deps.measure, recipe: deps.recipe() },
      plan,
      signal,
    )
    const verdict = judgeVisit(visit, canaries, await earlierCanaries(store, campaignId), marginPct / 100)
    if (verdict !== null) return verdict
    if (canaries.length === 0)
      await hub.note(
        'warn',
        `No transition could be measured in the check of ${visit.setting} at ${hertz(visit.refreshHz)} Hz: whether the setting was changed is not known.`,
        sweepId,
      )
    await store.addReadings({ readings: canaryReadings(campaignId, sweepId, canaries, clock.iso()) })
    return null
  }
}
