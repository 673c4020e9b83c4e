import { type ReactNode, useEffect, useRef } from 'react'
import type { FigureElement, FigureHost } from '#shared/figures/svg.ts'

/**
 * Draws a figure with the page's own document; the element is made anew when `draw` is another function. `children` lie
 * over the picture and are placed by shares of its size.
 */
export function FigureView(props: {
  readonly draw: (host: FigureHost) => FigureElement
  readonly caption: string
  readonly children?: ReactNode
}) {
  const { draw, caption, children } = props
  const holder = useRef<HTMLDivElement>(null)
  useEffect(() => {
    const element = draw({ document }) as unknown as Element
    holder.current?.replaceChildren(element)
  }, [draw])
  return (
    <figure className="figure">
      <div className="figure-picture">
        <div ref={holder} />
        {children}
      </div>
      <figcaption>{caption}</figcaption>
    </figure>
  )
}
