import { useEffect, useRef } from 'react'
import type { FigureElement, FigureHost } from '#shared/figures/svg.ts'

/** Draws a figure with the page's own document; the element is made anew when its inputs change. */
export function FigureView({ draw, caption }: { draw: (host: FigureHost) => FigureElement; caption: string }) {
  const holder = useRef<HTMLDivElement>(null)
  useEffect(() => {
    const element = draw({ document }) as unknown as Element
    holder.current?.replaceChildren(element)
  }, [draw])
  return (
    <figure className="figure">
      <div ref={holder} />
      <figcaption>{caption}</figcaption>
    </figure>
  )
}
