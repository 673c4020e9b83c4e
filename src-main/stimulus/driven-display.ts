import type { FrameLog } from '#shared/domain/capture.ts'
import type { SweepPlan } from '#shared/domain/plan.ts'
import type { SimView } from '#shared/domain/sim-control.ts'
import type { SimSetting } from '#shared/domain/rig.ts'

/**
 * A display without a screen that is told directly what to show: the simulated one, in this process or in another.
 * Rejections carry `stimulus-absent` when it is gone and `conflict` when it follows something else.
 */
export interface DrivenDisplay {
  /** Answers once the frame that shows the level has begun. */
  show(level: number, signal?: AbortSignal): Promise<FrameLog>
  setRefresh(refreshHz: number): Promise<void> | void
  setSetting(setting: SimSetting): Promise<void> | void
  setPatch(patch: SweepPlan['patch']): Promise<void> | void
  /** Where the detector is held, 0 top to 1 bottom. */
  setRow(row: number): Promise<void> | void
  /** What of the light of the middle reaches the detector: its place, its angle, the colour. */
  setView(view: SimView): Promise<void> | void
  /** The next input event shows the level; resolves when it came, and rejects with `cancelled` when it is given up. */
  react(level: number, signal: AbortSignal): Promise<void>
}

/** Which driven display there is at the moment, if any. */
export interface DrivenDisplaySource {
  current(): DrivenDisplay | null
  onChange(listener: () => void): () => void
}
