import { AppError } from '#shared/domain/errors.ts'
import type { CampaignRunner } from './campaign/runner.ts'
import type { Guides } from './guided/guides.ts'
import type { Hub } from './hub.ts'
import type { LatencyRuns } from './latency.ts'
import type { Sweeper } from './sweeper.ts'

/** What rig and display are not free for, as errors `conflict`. */
export interface Refusals {
  whileSweeping(): void
  /** The same, but rig or display may be connected anew while a run waits for them. */
  whileConnected(): void
  /** While a campaign run is at work, also between its sweeps. */
  whileRun(): void
  /** While input latency is measured, or a guided sequence is at work. */
  whileLatency(): void
  unwarned(): void
}

export function createRefusals(deps: {
  readonly hub: Hub
  readonly sweeper: Pick<Sweeper, 'running'>
  readonly runner: Pick<CampaignRunner, 'running'>
  readonly latency: Pick<LatencyRuns, 'running'>
  readonly guides: Pick<Guides, 'running'>
}): Refusals {
  const { hub, sweeper, runner, latency, guides } = deps
  function whileRun(): void {
    if (runner.running()) throw new AppError('conflict', 'A campaign run is in progress.', 'Pause the run first.')
  }
  function whileLatency(): void {
    if (latency.running())
      throw new AppError('conflict', 'Input latency is being measured.', 'Wait for its end or cancel it first.')
    if (guides.running()) throw new AppError('conflict', 'A guided sequence is at work.', 'Finish or stop it first.')
  }
  function whileSweeping(): void {
    if (sweeper.running()) throw new AppError('conflict', 'A sweep is running.', 'Pause or stop the sweep first.')
    whileRun()
    whileLatency()
  }
  return {
    whileSweeping,
    whileConnected() {
      if (hub.state().run?.phase !== 'waiting') whileSweeping()
    },
    whileRun,
    whileLatency,
    unwarned() {
      if (!hub.state().warningAcknowledged)
        throw new AppError(
          'conflict',
          'The warning about flashing light has not been read yet.',
          'Read and acknowledge it, then start.',
        )
    },
  }
}
