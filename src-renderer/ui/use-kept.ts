import { useCallback, useState } from 'react'

const kept = new Map<string, unknown>()

/**
 * `useState` that survives leaving the screen, until the page is loaded anew: a look at something elsewhere and back
 * ends where it began. `place` names the value; one place holds one type.
 */
export function useKept<T>(place: string, initial: T): [T, (value: T) => void] {
  const [value, setValue] = useState<T>(() => (kept.has(place) ? (kept.get(place) as T) : initial))
  const keep = useCallback(
    (next: T) => {
      kept.set(place, next)
      setValue(next)
    },
    [place],
  )
  return [value, keep]
}
