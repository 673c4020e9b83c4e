/** A controller that also fires with the outer signal; `release` takes the listener off again. */
export function linkedController(outer: AbortSignal | undefined): { controller: AbortController; release: () => void } {
  const controller = new AbortController()
  const forward = (): void => controller.abort()
  if (outer?.aborted === true) controller.abort()
  else outer?.addEventListener('abort', forward, { once: true })
  return { controller, release: () => outer?.removeEventListener('abort', forward) }
}
