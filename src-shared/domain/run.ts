/** A run: sweeps worked through in one go, one for each setting and refresh rate of its plan. */
import { z } from 'zod'

export const runPlanSchema = z.strictObject({
  settings: z.array(z.string().trim().min(1).max(60)).min(1).max(32),
  /** Hz. */
  refreshRatesHz: z.array(z.number().min(10).max(1000)).min(1).max(32),
})
export type RunPlan = z.infer<typeof runPlanSchema>

export type RunState = 'ready' | 'running' | 'paused' | 'finished' | 'stopped'

export interface Run {
  readonly id: number
  readonly campaignId: number
  readonly plan: RunPlan
  readonly state: RunState
  /** Why it is paused or stopped, in words; empty otherwise. */
  readonly reason: string
  readonly createdAt: string
  /** Its sweeps in the order they are worked through. */
  readonly sweepIds: readonly number[]
}
