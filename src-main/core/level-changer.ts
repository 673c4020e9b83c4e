import { FLASH_LIMIT_SPACING_S } from '#shared/domain/flash.ts'
import type { FrameLog } from '#shared/domain/capture.ts'
import type { SweepPlan } from '#shared/domain/plan.ts'
import type { Clock, Stimulus } from './ports.ts'

/**
 * The only way a level reaches the display: keeps the least time between two changes, whoever asks for them, so that
 * retakes, ladders and resumes cannot flash faster than the plan allows.
 */
export interface LevelChanger {
  readonly level: number | null
  /** Clock time at which the next change is allowed, s. */
  readonly allowedAt: number
  change(level: number, signal?: AbortSignal): Promise<FrameLog>
}

export function createLevelChanger(stimulus: Stimulus, clock: Clock, plan: SweepPlan): LevelChanger {
  const spacing = plan.flashLimitLifted ? plan.spacingS : Math.max(plan.spacingS, FLASH_LIMIT_SPACING_S)
  let level: number | null = null
  let changedAt = -Infinity
  return {
    get level() {
      return level
    },
    get allowedAt() {
      return changedAt + spacing
    },
    async change(next, signal) {
      const wait = changedAt + spacing - clock.now()
      if (wait > 0) await clock.sleep(wait, signal)
      // Counted from the request as well as from the answer, so that a failed answer still counts as a change.
      changedAt = clock.now()
      const log = await stimulus.show(next, signal)
      changedAt = clock.now()
      level = next
      return log
    },
  }
}
