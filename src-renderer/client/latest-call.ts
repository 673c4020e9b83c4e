/**
 * Calls that follow a hand: at most one is under way, and of those asked meanwhile only the newest is made. Nothing is
 * queued, so a slow host only lowers the rate.
 */
export interface LatestCall<A> {
  ask(argument: A): void
  /** Forgets what was asked; an answer still under way is not reported. */
  stop(): void
}

export function latestCall<A, T>(
  call: (argument: A) => Promise<T>,
  onAnswer: (answer: T, argument: A) => void,
  onError: (error: unknown) => void,
): LatestCall<A> {
  let busy = false
  let next: { readonly argument: A } | null = null
  let round = 0

  async function run(argument: A): Promise<void> {
    const mine = round
    busy = true
    try {
      const answer = await call(argument)
      if (mine === round) onAnswer(answer, argument)
    } catch (error) {
      if (mine === round) onError(error)
    } finally {
      busy = false
      const waiting = next
      next = null
      if (waiting !== null) void run(waiting.argument)
    }
  }

  return {
    ask(argument) {
      if (busy) next = { argument }
      else void run(argument)
    },
    stop() {
      round += 1
      next = null
    },
  }
}
