/** The embedded simulated rig as the rig manager opens it, and its display as the stimulus drives it. */
import { createSimulatedBench, type BenchOptions, type SimulatedBench } from './simulated-bench.ts'
import type { SimClock } from './sim-clock.ts'
import type { OpenSimulated } from '../transport/link.ts'

export interface SimulatedRigs {
  readonly open: OpenSimulated
  /** The display of the rig that was opened last and not yet disposed of. */
  current(): SimulatedBench | null
  onChange(listener: () => void): () => void
}

export function createSimulatedRigs(
  clock: SimClock,
  options: Omit<BenchOptions, 'clock' | 'simulation'> = {},
): SimulatedRigs {
  const listeners = new Set<() => void>()
  let bench: SimulatedBench | null = null
  const set = (next: SimulatedBench | null): void => {
    bench = next
    for (const listener of listeners) listener()
  }
  return {
    current: () => bench,
    onChange(listener) {
      listeners.add(listener)
      return () => listeners.delete(listener)
    },
    async open(simulation) {
      const made = createSimulatedBench({ ...options, simulation, clock })
      set(made)
      return {
        open: () => made.open(),
        inject: (fault) => made.inject(fault),
        async dispose() {
          await made.dispose()
          if (bench === made) set(null)
        },
      }
    },
  }
}
