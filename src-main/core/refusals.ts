import { AppError } from '#shared/domain/errors.ts'
import type { Hub } from './hub.ts'
import type { LatencyRuns } from './latency.ts'
import type { Sweeper } from './sweeper.ts'

/** What rig and display are not free for, as errors `conflict`. */
export interface Refusals {
  whileSweeping(): void
  whileLatency(): void
  unwarned(): void
}

export function createRefusals(deps: {
  readonly hub: Hub
  readonly sweeper: Pick<Sweeper, 'running'>
  readonly latency: Pick<LatencyRuns, 'running'>
}): Refusals {
  const { hub, sweeper, latency } = deps
  function whileLatency(): void {
    if (latency.running())
      throw new AppError('conflict', 'Input latency is being measured.', 'Wait for its end or cancel it first.')
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
