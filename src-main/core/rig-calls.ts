import { toErrorDetail } from '#shared/domain/errors.ts'
import type { HostState } from '#shared/domain/views.ts'
import type { Aim } from './aim.ts'
import type { Core } from './facade.ts'
import type { Hub } from './hub.ts'
import type { Live } from './live.ts'
import type { Monitor } from './monitor.ts'
import type { Rig } from './ports.ts'
import type { Refusals } from './refusals.ts'
import { identityText } from './rig-identity.ts'

export interface RigCallDeps {
  readonly rig: Rig
  readonly hub: Hub
  readonly monitor: Monitor
  readonly aim: Aim
  readonly live: Live
  readonly refuse: Refusals
}

/** Connecting the rig, looking through it, aiming it. */
export function createRigCalls({ rig, hub, monitor, aim, live, refuse }: RigCallDeps): Core['rig'] {
  const settled = async (work: Promise<unknown> | void): Promise<HostState> => {
    await work
    return hub.state()
  }
  return {
    ports: () => rig.ports(),
    connect: async (target, signal) => {
      refuse.whileConnected()
      await monitor.stop()
      try {
        await rig.connect(target, signal)
        await hub.note('info', `The rig is connected: ${identityText(rig.state().identity)}.`)
      } catch (error) {
        await hub.note('error', `The rig could not be connected: ${toErrorDetail(error).message}`)
        throw error
      }
      return hub.state()
    },
    disconnect: async () => {
      refuse.whileConnected()
      await monitor.stop()
      return settled(rig.disconnect())
    },
    inject: ({ fault }) => settled(rig.inject(fault)),
    monitor: async ({ on, rangeV }) => {
      if (!on) return settled(monitor.stop())
      refuse.whileSweeping()
      rig.digitizer()
      monitor.start(rangeV)
      return hub.state()
    },
    preflight: async ({ plan }, signal) => {
      refuse.whileSweeping()
      await monitor.stop()
      return aim.preflight(plan, signal)
    },
    dark: async ({ plan }, signal) => {
      refuse.whileSweeping()
      await monitor.stop()
      const level = await aim.dark(plan, signal)
      await hub.note('info', `Dark level: ${(1000 * level.meanV).toFixed(2)} mV at the ${level.rangeV} V range.`)
      return level
    },
    live: async ({ since, columns }) => live.view(since, columns),
  }
}
