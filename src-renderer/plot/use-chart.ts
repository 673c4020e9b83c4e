/** The life of a chart that draws itself: made once in its element, kept to its size and theme, destroyed with it. */
import { useEffect, useRef, type RefObject } from 'react'
import { currentTheme, useTheme } from '../ui/theme.ts'
import { readPlotTheme, type PlotTheme } from './plot-theme.ts'

export interface Size {
  readonly width: number
  readonly height: number
}

export interface SelfDrawn {
  setTheme(theme: PlotTheme): void
  /** Never called with an empty size. */
  resize(size: Size): void
  destroy(): void
}

/** `make` runs once, when the element is there: what it captures must not change with the properties. */
export function useChart<C extends SelfDrawn>(
  make: (element: HTMLElement, size: Size, theme: PlotTheme) => C,
): { readonly holder: RefObject<HTMLDivElement | null>; readonly chart: RefObject<C | null> } {
  const holder = useRef<HTMLDivElement>(null)
  const chart = useRef<C | null>(null)
  const first = useRef(make)
  const theme = useTheme()

  useEffect(() => {
    const element = holder.current
    if (element === null) return undefined
    const size = (): Size => ({ width: element.clientWidth, height: element.clientHeight })
    const made = first.current(element, size(), readPlotTheme(element, currentTheme()))
    chart.current = made
    const observer = new ResizeObserver(() => {
      const next = size()
      if (next.width > 0 && next.height > 0) made.resize(next)
    })
    observer.observe(element)
    return () => {
      observer.disconnect()
      chart.current = null
      made.destroy()
    }
  }, [])

  useEffect(() => {
    if (holder.current !== null) chart.current?.setTheme(readPlotTheme(holder.current, theme))
  }, [theme])

  return { holder, chart }
}
