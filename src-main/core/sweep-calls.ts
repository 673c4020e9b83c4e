import { AppError } from '#shared/domain/errors.ts'
import type { HostState } from '#shared/domain/views.ts'
import { walkOf } from '#shared/domain/walk.ts'
import type { Aim } from './aim.ts'
import type { CampaignRunner } from './campaign/runner.ts'
import type { Core, StoredCalls } from './facade.ts'
import type { Hub } from './hub.ts'
import type { Monitor } from './monitor.ts'
import { checkPlan } from './plan-check.ts'
import type { Rig, Store } from './ports.ts'
import type { Refusals } from './refusals.ts'
import { refuseOtherRig, rigKept } from './rig-identity.ts'
import type { Sweeper } from './sweeper.ts'

export interface SweepCallDeps {
  readonly store: Store
  readonly rig: Rig
  readonly hub: Hub
  readonly monitor: Monitor
  readonly aim: Aim
  readonly sweeper: Sweeper
  readonly runner: Pick<CampaignRunner, 'restore'>
  readonly refuse: Refusals
}

/** Single sweeps as people ask for them. */
export function createSweepCalls(deps: SweepCallDeps): Omit<Core['sweeps'], keyof StoredCalls['sweeps']> {
  const { store, rig, hub, monitor, aim, sweeper, runner, refuse } = deps

  async function start(sweepId: number): Promise<HostState> {
    refuse.unwarned()
    refuse.whileRun()
    refuse.whileLatency()
    await monitor.stop()
    aim.forget()
    refuseOtherRig(rig, (await store.sweep({ sweepId })).origin)
    await sweeper.start(sweepId)
    return hub.state()
  }

  return {
    start: ({ sweepId }) => start(sweepId),
    resume: ({ sweepId }) => start(sweepId),
    async pause({ sweepId }) {
      await sweeper.pause(sweepId)
      return hub.state()
    },
    async stop({ sweepId }) {
      await sweeper.stop(sweepId)
      return hub.state()
    },
    check: async ({ plan }) => checkPlan(plan),
    async create({ campaignId, plan }) {
      const sweep = await store.createSweep({ campaignId, plan, ...rigKept(rig), total: walkOf(plan).length })
      hub.emit({ kind: 'changed', what: 'sweeps' })
      return sweep
    },
    async hide({ sweepId, hidden }) {
      const { sweep: running } = hub.state()
      if (sweeper.running() && running?.sweepId === sweepId)
        throw new AppError('conflict', 'This sweep is running.', 'Pause or stop it first.')
      const before = await store.sweep({ sweepId })
      if (!hidden && before.hidden && before.runId !== null) {
        // It may have been taken again since: only one of them stands in the run.
        await runner.restore({ runId: before.runId, sweepId })
        return store.sweep({ sweepId })
      }
      const sweep = await store.setSweepHidden(sweepId, hidden)
      await hub.note('info', hidden ? 'The sweep is hidden.' : 'The sweep is restored.', sweepId)
      hub.emit({ kind: 'changed', what: 'sweeps' })
      hub.emit({ kind: 'changed', what: 'results' })
      return sweep
    },
  }
}
