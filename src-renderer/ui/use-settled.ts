import { useEffect, useRef, useState } from 'react'

/** The value once it has not changed for `ms`. */
export function useSettled<T>(value: T, ms: number): T {
  const [settled, setSettled] = useState(value)
  useEffect(() => {
    const timer = setTimeout(() => setSettled(value), ms)
    return () => clearTimeout(timer)
  }, [value, ms])
  return settled
}

/** The value at once after a rest of `ms`; while changes follow each other faster, only where they come to rest. */
export function useCalm<T>(value: T, ms: number): T {
  const [calm, setCalm] = useState(value)
  const restsAt = useRef(0)
  useEffect(() => {
    const now = performance.now()
    const rested = now >= restsAt.current
    restsAt.current = now + ms
    if (rested) {
      setCalm(value)
      return undefined
    }
    const timer = setTimeout(() => setCalm(value), ms)
    return () => clearTimeout(timer)
  }, [value, ms])
  return calm
}
