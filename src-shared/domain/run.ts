/** A run: sweeps worked through in one go, one for each setting and refresh rate of its plan. */
import type { CampaignPlan, Visit } from './campaign-plan.ts'

export type RunState = 'ready' | 'running' | 'paused' | 'finished' | 'stopped'

export interface Run {
  readonly id: number
  readonly campaignId: number
  readonly plan: CampaignPlan
  readonly state: RunState
  /** Why it is paused or stopped, in words; empty otherwise. */
  readonly reason: string
  readonly createdAt: string
  /** Its sweeps in the order they are worked through. */
  readonly sweepIds: readonly number[]
}

/** `again`: done, look once more. `accept`: go on as it is, which is recorded. `skip`: leave this sweep out. */
export const RUN_ANSWERS = ['again', 'accept', 'skip'] as const
export type RunAnswer = (typeof RUN_ANSWERS)[number]

/** What a run waits for: a person who changes something on the display, or decides. */
export interface RunQuestion {
  readonly kind: 'change' | 'unchanged' | 'differs' | 'refresh'
  readonly visit: Visit
  /** Read from two metres: what to do. */
  readonly instruction: string
  /** Why it is asked, with the numbers; empty for a plain change. */
  readonly reason: string
  readonly answers: readonly RunAnswer[]
}

/** White watched at the start of a run. */
export interface WarmUp {
  readonly points: readonly { readonly atS: number; readonly volts: number }[]
  /** Drift over the last two minutes, percent of white a minute; null before they are full. */
  readonly driftPctPerMin: number | null
  readonly settled: boolean
}

/** A run at work. */
export interface RunProgress {
  readonly runId: number
  readonly campaignId: number
  readonly phase: 'asking' | 'warming' | 'checking' | 'sweeping'
  /** Place of the sweep at work, from 0, and how many there are. */
  readonly index: number
  readonly total: number
  readonly visit: Visit | null
  readonly question: RunQuestion | null
  readonly warmUp: WarmUp | null
  /** Estimate for everything that is left, s. */
  readonly leftS: number | null
}
