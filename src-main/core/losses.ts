/** A rig or a display that went away while something was measured. */
import { AppError, type ErrorCode } from '#shared/domain/errors.ts'
import type { Clock, Rig, Stimulus } from './ports.ts'

export type Lost = 'rig' | 'display'

export interface Losses {
  /** What is gone, where work ended with this code because of it; null where nothing is. */
  of(code: ErrorCode): Promise<Lost | null>
  /** Resolves once rig and display are both there; rejects with `cancelled`. */
  back(signal: AbortSignal): Promise<void>
}

/** An idle rig that is gone has been missed by then, s of real time. */
const RIG_MISSED_S = 6

export function createLosses(deps: {
  readonly rig: Pick<Rig, 'state' | 'onState'>
  readonly stimulus: Pick<Stimulus, 'state' | 'onState'>
  readonly clock: Clock
}): Losses {
  const { rig, stimulus, clock } = deps
  const rigIsLost = (): boolean => rig.state().status === 'lost'
  const displayIsThere = (): boolean => stimulus.state().connected && stimulus.state().fullScreen

  return {
    async of(code) {
      if (code === 'rig-lost') return 'rig'
      if (code !== 'stimulus-absent') return null
      if (stimulus.state().kind !== 'simulated') return displayIsThere() ? null : 'display'
      // A simulated display may be missed a moment before the rig that it belongs to.
      const rate = clock.rate ?? 1
      const giveUpAt = clock.now() + RIG_MISSED_S * rate
      while (!rigIsLost() && clock.now() < giveUpAt) await clock.sleep(0.1 * rate)
      return rigIsLost() ? 'rig' : null
    },
    back(signal) {
      return new Promise((resolve, reject) => {
        const releases = [
          rig.onState(() => look()),
          stimulus.onState(() => look()),
          () => signal.removeEventListener('abort', look),
        ]
        function look(): void {
          const isBack = rig.state().status === 'ready' && displayIsThere()
          if (!isBack && !signal.aborted) return
          for (const release of releases) release()
          if (signal.aborted) reject(new AppError('cancelled', 'The wait was ended.'))
          else resolve()
        }
        signal.addEventListener('abort', look)
        look()
      })
    },
  }
}
