import { useEffect, useRef, type RefObject } from 'react'

/**
 * Holds the focus inside what fills the window. A dialog that closes gives the focus back a little later to what was
 * focused before it, which now lies below: there the space bar would press a button nobody sees.
 */
export function useHeldFocus<T extends HTMLElement>(): RefObject<T | null> {
  const own = useRef<T>(null)
  useEffect(() => {
    const bringBack = ({ target }: FocusEvent) => {
      const within = own.current
      if (within === null || !(target instanceof Element) || within.contains(target)) return
      // A dialog above holds its own.
      if (target.closest('[role=dialog], [role=alertdialog]') !== null) return
      const main = within.querySelector<HTMLElement>('.button-main:not(:disabled)')
      ;(main ?? within.querySelector<HTMLElement>('button:not(:disabled)'))?.focus()
    }
    document.addEventListener('focusin', bringBack)
    return () => document.removeEventListener('focusin', bringBack)
  }, [])
  return own
}
