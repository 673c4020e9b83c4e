/** What can be done with sweeps from the Bench, and what stands in the way. */
import type { Campaign, Sweep } from '#shared/domain/capture.ts'
import type { SweepPlan } from '#shared/domain/plan.ts'
import type { HostState } from '#shared/domain/views.ts'
import { useHost, useHostState } from '../../client/host.tsx'
import { useCommand } from '../../client/use-command.ts'
import { type FlashWarningState, useFlashWarning } from '../../parts/use-flash-warning.ts'

export interface SweepCommands {
  readonly busy: boolean
  /** Why nothing can be recorded now, with what to do; empty when it can. */
  readonly obstacle: string
  readonly flash: FlashWarningState
  /** Stores the sweep in the campaign, or in a new one of that name, and starts it. */
  readonly startNew: (plan: SweepPlan, into: Campaign | { readonly newName: string }) => void
  readonly resume: (sweep: Sweep) => void
  readonly pause: (sweepId: number) => void
  readonly stop: (sweepId: number) => void
}

/** The rig's part of the obstacle: the same while it records and rests in turn. */
function obstacleOf({ rig: { status } }: HostState): string {
  if (status === 'lost') return 'The rig does not answer.'
  return status === 'ready' || status === 'recording' ? '' : 'Connect a rig.'
}

export function useSweepCommands(onCreated: (sweep: Sweep) => void, onStart: () => void): SweepCommands {
  const rigObstacle = useHostState(obstacleOf)
  const heard = useHost((snapshot) => snapshot.link === 'open')
  const flash = useFlashWarning()
  const { afterWarning } = flash
  const create = useCommand(
    'The sweep could not be created',
    async (client, plan: SweepPlan, into: Campaign | { readonly newName: string }) => {
      const campaign =
        'id' in into ? into : await client.campaigns.create({ name: into.newName, display: 'Invented display' })
      return client.sweeps.create({ campaignId: campaign.id, plan })
    },
  )
  const start = useCommand('The sweep could not start', (client, id: number) => client.sweeps.start({ sweepId: id }))
  const resume = useCommand('The sweep could not resume', (client, id: number) => client.sweeps.resume({ sweepId: id }))
  const pause = useCommand('The sweep could not be paused', (client, id: number) =>
    client.sweeps.pause({ sweepId: id }),
  )
  const stop = useCommand('The sweep could not be stopped', (client, id: number) => client.sweeps.stop({ sweepId: id }))

  return {
    busy: [create, start, resume, pause, stop].some((command) => command.busy) || flash.acknowledging,
    obstacle: heard ? rigObstacle : 'Wait for the host.',
    flash,
    startNew: (plan, into) =>
      afterWarning(plan, () => {
        void (async () => {
          const created = await create.run(plan, into)
          if (created === null) return
          onCreated(created)
          onStart()
          await start.run(created.id)
        })()
      }),
    resume: (sweep) =>
      afterWarning(sweep.plan, () => {
        onStart()
        void resume.run(sweep.id)
      }),
    pause: (sweepId) => void pause.run(sweepId),
    stop: (sweepId) => void stop.run(sweepId),
  }
}
