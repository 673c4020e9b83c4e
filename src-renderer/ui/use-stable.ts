import { useCallback, useEffect, useRef } from 'react'

/** A callback that never changes and calls the newest `run`; for handlers only, not while rendering. */
export function useStable<A extends readonly unknown[]>(run: (...args: A) => void): (...args: A) => void {
  const newest = useRef(run)
  useEffect(() => {
    newest.current = run
  })
  return useCallback((...args: A) => newest.current(...args), [])
}
