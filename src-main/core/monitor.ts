import { toErrorDetail } from '#shared/domain/errors.ts'
import type { Hub } from './hub.ts'
import type { Live } from './live.ts'
import type { Clock, Rig } from './ports.ts'
import { recordNow } from './record.ts'

/** Repeated short recordings for aiming the sensor; nothing is stored. */
export interface Monitor {
  /** `rangeV`: full scale of the input; changes that of a monitor that runs. */
  start(rangeV?: number): void
  stop(): Promise<void>
}

const WINDOW_S = 0.1
const SETTINGS = { sampleRateHz: 50_000, transfer: 'int16' } as const
const RANGE_V = 5

export function createMonitor(deps: { rig: Rig; clock: Clock; live: Live; hub: Hub }): Monitor {
  let current: { abort: AbortController; ended: Promise<void> } | null = null
  let range = RANGE_V

  async function loop(signal: AbortSignal): Promise<void> {
    try {
      const digitizer = deps.rig.digitizer()
      while (!signal.aborted) {
        const { trace } = await recordNow(digitizer, { ...SETTINGS, rangeV: range }, WINDOW_S, signal)
        deps.live.put({
          trace,
          result: null,
          sweepId: null,
          captureId: null,
          from: null,
          to: null,
          refreshHz: deps.hub.state().stimulus.measuredHz ?? 0,
        })
        // A rig on a fast link would otherwise keep the process busy for pictures nobody can see.
        await deps.clock.sleep(0.02, signal)
      }
    } catch (error) {
      if (!signal.aborted) await deps.hub.note('warn', `The monitor stopped: ${toErrorDetail(error).message}`)
    } finally {
      current = null
      deps.hub.patch({ monitoring: false })
    }
  }

  return {
    start(rangeV = RANGE_V) {
      range = rangeV
      if (current) return
      const abort = new AbortController()
      deps.hub.patch({ monitoring: true })
      current = { abort, ended: loop(abort.signal) }
    },
    async stop() {
      current?.abort.abort()
      await current?.ended
    },
  }
}
