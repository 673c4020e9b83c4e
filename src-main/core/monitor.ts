import { toErrorDetail } from '#shared/domain/errors.ts'
import type { Hub } from './hub.ts'
import type { Live } from './live.ts'
import type { Clock, Rig } from './ports.ts'
import { recordNow } from './record.ts'

/** Repeated short recordings for aiming the sensor; nothing is stored. */
export interface Monitor {
  start(): void
  stop(): Promise<void>
}

const WINDOW_S = 0.1
const SETTINGS = { sampleRateHz: 50_000, rangeV: 5, transfer: 'int16' } as const

export function createMonitor(deps: { rig: Rig; clock: Clock; live: Live; hub: Hub }): Monitor {
  let current: { abort: AbortController; ended: Promise<void> } | null = null

  async function loop(signal: AbortSignal): Promise<void> {
    try {
      const digitizer = deps.rig.digitizer()
      while (!signal.aborted) {
        const { trace } = await recordNow(digitizer, SETTINGS, WINDOW_S, signal)
        deps.live.put({
          trace,
          result: null,
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
    start() {
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
