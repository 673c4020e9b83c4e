import type { Clock } from '#main/core/ports.ts'

/** The part of the clock that the simulation runs on; monotonic seconds. */
export type SimClock = Pick<Clock, 'now' | 'sleep'>
