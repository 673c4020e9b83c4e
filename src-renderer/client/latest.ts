/** One question at a time, and always the newest next: however fast questions come, none waits behind another. */
export interface Latest<Q> {
  ask(question: Q): void
  /** Nothing is answered any more; what is under way is cancelled. */
  stop(): void
}

/**
 * Puts a question as soon as the one before is answered, leaving out all but the newest. An answer is handed on even
 * when a newer question waits already, so that a moving slider shows its way; failures go to `onError`.
 */
export function createLatest<Q, A>(options: {
  readonly put: (question: Q, signal: AbortSignal) => Promise<A>
  readonly onAnswer: (answer: A, question: Q) => void
  readonly onError: (error: unknown, question: Q) => void
}): Latest<Q> {
  const abort = new AbortController()
  let waiting: { readonly question: Q } | null = null
  let busy = false

  const run = async (question: Q): Promise<void> => {
    busy = true
    try {
      const answer = await options.put(question, abort.signal)
      if (!abort.signal.aborted) options.onAnswer(answer, question)
    } catch (error) {
      if (!abort.signal.aborted) options.onError(error, question)
    } finally {
      busy = false
      const next = waiting
      waiting = null
      if (next !== null && !abort.signal.aborted) void run(next.question)
    }
  }

  return {
    ask(question) {
      if (abort.signal.aborted) return
      if (busy) waiting = { question }
      else void run(question)
    },
    stop() {
      waiting = null
      abort.abort()
    },
  }
}
