import type { Clock, Store } from '#main/core/ports.ts'
import { manualClock } from '../simulated/manual-clock.ts'

export interface JumpingClock {
  readonly clock: Clock
  /** The same archive; time stands while one of its operations is under way in its thread. */
  watched(store: Store): Store
  stop(): void
}

/** A clock that jumps from event to event, so that nothing depends on the machine's speed; its dates begin today. */
export function jumpingClock(): JumpingClock {
  const clock = manualClock(Date.now())
  const underWay = new Set<Promise<unknown>>()
  const stop = clock.run(() => (underWay.size === 0 ? null : Promise.allSettled(underWay)))
  return {
    clock,
    stop,
    watched: (store) =>
      new Proxy(store, {
        get(target, name) {
          const member: unknown = Reflect.get(target, name)
          if (typeof member !== 'function') return member
          return async (...parameters: unknown[]): Promise<unknown> => {
            const answer = Promise.resolve(Reflect.apply(member, target, parameters))
            underWay.add(answer)
            try {
              return await answer
            } finally {
              underWay.delete(answer)
            }
          }
        },
      }),
  }
}
