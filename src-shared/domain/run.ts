/** A run: sweeps worked through in one go, one for each setting and refresh rate of its plan. */
import type { CampaignPlan, Visit } from './campaign-plan.ts'
import type { Sweep } from './capture.ts'

export type RunState = 'ready' | 'running' | 'paused' | 'finished' | 'stopped'

export interface Run {
  readonly id: number
  readonly campaignId: number
  readonly plan: CampaignPlan
  readonly state: RunState
  /** Why it is paused or stopped, in words; empty otherwise. */
  readonly reason: string
  readonly createdAt: string
  /** Its sweeps in the order of the plan; hidden ones, such as those taken again since, are not among them. */
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
  /** `waiting`: for a rig or display that is gone. */
  readonly phase: 'asking' | 'warming' | 'checking' | 'sweeping' | 'waiting'
  /** Place of the sweep at work in the plan's order, from 0, and how many there are. */
  readonly index: number
  readonly total: number
  /** Sweeps that nothing is left to take of. */
  readonly done: number
  readonly sweepId: number | null
  readonly visit: Visit | null
  readonly question: RunQuestion | null
  readonly warmUp: WarmUp | null
  /** Estimates of what the sweep at work took when it began, and of all that comes after it, s. */
  readonly ownS: number | null
  readonly laterS: number | null
}

/** Time for everything that is left, s; null before it is known. The sweep at work knows its own part best. */
export function leftInAll(
  { phase, sweepId, ownS, laterS }: Pick<RunProgress, 'phase' | 'sweepId' | 'ownS' | 'laterS'>,
  sweep: { readonly sweepId: number; readonly leftS: number | null } | null,
): number | null {
  if (ownS === null || laterS === null) return null
  const known = phase === 'sweeping' && sweep?.sweepId === sweepId ? sweep.leftS : null
  return laterS + Math.max(0, known ?? ownS)
}

/** Something is left to take of it. */
export const isDue = ({ state }: Pick<Sweep, 'state'>): boolean => state !== 'finished' && state !== 'stopped'

/**
 * The sweep to take next, so that the display is touched least: what is left of the setting it has, then the first of
 * the plan's order. Null when nothing is due. `sweeps` in the plan's order; `current` is null when nobody knows.
 */
export function nextDue<S extends Visit & Pick<Sweep, 'state'>>(sweeps: readonly S[], current: Visit | null): S | null {
  const due = sweeps.filter(isDue)
  const here = due.filter(({ setting }) => setting === current?.setting)
  return here.find(({ refreshHz }) => refreshHz === current?.refreshHz) ?? here[0] ?? due[0] ?? null
}
