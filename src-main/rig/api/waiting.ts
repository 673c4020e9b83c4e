import type { Clock } from '#main/core/ports.ts'
import { cancelledError } from './rig-errors.ts'

export function throwIfCancelled(signal: AbortSignal | undefined): void {
  if (signal?.aborted === true) throw cancelledError()
}

/** Sleeps; rejects with `cancelled` as soon as the signal fires, however the clock treats it. */
export async function pause(clock: Clock, seconds: number, signal?: AbortSignal): Promise<void> {
  throwIfCancelled(signal)
  try {
    await clock.sleep(seconds, signal)
  } catch (error) {
    throwIfCancelled(signal)
    throw error
  }
  throwIfCancelled(signal)
}
