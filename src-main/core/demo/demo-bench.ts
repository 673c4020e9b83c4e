/** Where the captures of the demo library come from; the simulated rig's model implements it. */
import type { FrameLog, Ladder, RawTrace } from '#shared/domain/capture.ts'
import type { SweepPlan } from '#shared/domain/plan.ts'
import type { Simulation } from '#shared/domain/rig.ts'
import type { WalkStep } from '#shared/domain/walk.ts'

/** What goes wrong with a capture, so that there is something to review. */
export type Mishap = 'hum' | 'clipped' | 'held' | 'double-step' | 'slow'

export type DemoSource = Pick<Simulation, 'panel' | 'backlight' | 'seed'>

export interface DemoRecord {
  readonly trace: RawTrace
  readonly triggerIndex: number
  readonly frameLog: FrameLog
}

export interface DemoBench {
  readonly ladder: Ladder
  record(step: WalkStep, mishap: Mishap | null): DemoRecord
}

export type MakeDemoBench = (source: DemoSource, plan: SweepPlan, takenAt: string) => DemoBench
