import { AppError } from '#shared/domain/errors.ts'
import type { Guides } from './guided/guides.ts'
import type { Hub } from './hub.ts'
import type { LatencyRuns } from './latency.ts'
import type { Sweeper } from './sweeper.ts'

/** What rig and display are not free for, as errors `conflict`. */
export interface Refusals {
  whileSweeping(): void
  /** While input latency is measured, or a guided sequence is at work. */
  whileLatency(): void
  unwarned(): void
}

export function createRefusals(deps: {
  readonly hub: Hub
  readonly sweeper: Pick<Sweeper, 'running'>
  readonly latency: Pick<LatencyRuns, 'running'>
  readonly guides: Pick<Guides, 'running'>
}): Refusals {
  const { hub, sweeper, latency, guides } = deps
  function whileLatency(): void {
    if (latency.running())
      throw new AppError('conflict', 'Input latency is being measured.', 'Wait for its end or cancel it first.')
    if (guides.running()) throw new AppError('conflict', 'A guided sequence is at work.', 'Finish or stop it first.')
  }
  return {
    whileSweeping() {
      if (sweeper.running()) throw new AppError('conflict', 'A sweep is running.', 'Pause or stop the sweep first.')
      whileLatency()
    },
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
