import { sweepPlanSchema, transitionsOf } from '#shared/domain/plan.ts'
import type { PlanCheck } from '#shared/domain/views.ts'
import { STIMULUS_ALLOWANCE_S } from './record.ts'

/** What a plan would cost, or what is wrong with it; never throws on wrong input. */
export function checkPlan(candidate: unknown): PlanCheck {
  const parsed = sweepPlanSchema.safeParse(candidate)
  if (!parsed.success) {
    const problems = parsed.error.issues.map((issue) => `${issue.path.join('.') || 'plan'}: ${issue.message}`)
    return {
      problems,
      transitions: 0,
      captures: 0,
      ladderS: 0,
      estimatedS: 0,
      samplesPerCapture: 0,
      bytesPerCapture: 0,
    }
  }
  const plan = parsed.data
  const transitions = transitionsOf(plan.levels).length
  const captures = transitions * plan.repeats
  const allowance = plan.trigger === 'bus' ? STIMULUS_ALLOWANCE_S : 0
  const samplesPerCapture = Math.round((plan.preS + plan.postS + allowance) * plan.sampleRateHz)
  const ladderS = plan.levels.length * Math.max(plan.spacingS, plan.ladderSettleS + plan.ladderS)
  return {
    problems: [],
    transitions,
    captures,
    ladderS,
    samplesPerCapture,
    estimatedS: ladderS + captures * Math.max(plan.spacingS, plan.preS + plan.postS + allowance),
    bytesPerCapture: samplesPerCapture * (plan.transfer === 'int16' ? 2 : 4),
  }
}
