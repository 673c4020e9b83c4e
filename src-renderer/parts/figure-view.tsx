import { type ReactNode, useEffect, useRef, useState } from 'react'
import type { FigureData } from '#shared/figures/point-data.ts'
import type { FigureElement, FigureHost } from '#shared/figures/svg.ts'
import { useNotices } from '../client/notices.tsx'
import { saveFigureData, saveFigurePng, saveFigureSvg } from '../client/save-figure.ts'
import { Action } from '../ui/controls.tsx'

/** Widths between which a figure is not drawn again, px. */
const WIDTH_STEP = 8

/**
 * Draws a figure with the page's own document, as wide as there is room; the element is made anew when `draw` is another
 * function or the room changes. `children` lie over the picture and are placed from its sides.
 */
export function FigureView(props: {
  readonly draw: (host: FigureHost) => FigureElement
  readonly caption: string
  readonly children?: ReactNode
  /** Name of its files, and the numbers drawn; without it the figure is only looked at. */
  readonly file?: { readonly name: string; readonly data: FigureData }
}) {
  const { draw, caption, children, file } = props
  const whole = useRef<HTMLElement>(null)
  const holder = useRef<HTMLDivElement>(null)
  const [width, setWidth] = useState(0)
  useEffect(() => {
    if (whole.current === null) return undefined
    const observer = new ResizeObserver(([entry]) => {
      if (entry !== undefined) setWidth(WIDTH_STEP * Math.floor(entry.contentRect.width / WIDTH_STEP))
    })
    observer.observe(whole.current)
    return () => observer.disconnect()
  }, [])
  useEffect(() => {
    if (width === 0) return
    const element = draw({ document, width }) as unknown as Element
    holder.current?.replaceChildren(element)
  }, [draw, width])
  return (
    <figure className="figure" ref={whole}>
      <div className="figure-picture">
        <div ref={holder} />
        {children}
      </div>
      <figcaption>{caption}</figcaption>
      {file === undefined ? null : <FigureFiles caption={caption} file={file} draw={draw} />}
    </figure>
  )
}

function FigureFiles(props: {
  readonly caption: string
  readonly file: { readonly name: string; readonly data: FigureData }
  readonly draw: (host: FigureHost) => FigureElement
}) {
  const { caption, file, draw } = props
  const notices = useNotices()
  const drawn = (save: (element: Element) => void | Promise<void>) => () => {
    // A file is as wide as any other, whatever the window's width.
    Promise.resolve(save(draw({ document }) as unknown as Element)).catch(() =>
      notices.raise({
        kind: 'error',
        title: 'The picture could not be made',
        message: '',
        remedy: 'Save it as SVG instead.',
      }),
    )
  }
  const forms = [
    ['SVG', drawn((element) => saveFigureSvg(file.name, element))],
    ['PNG', drawn((element) => saveFigurePng(file.name, element))],
    ['CSV', () => saveFigureData(file.name, file.data)],
  ] as const
  const what = caption.split(/[.:]/)[0] ?? caption
  return (
    <div className="figure-files" role="group" aria-label={`Save: ${what}`}>
      <span className="hint" aria-hidden="true">
        Save
      </span>
      {forms.map(([form, save]) => (
        <Action key={form} size="small" tone="quiet" aria-label={`${form} of ${what}`} onPress={save}>
          {form}
        </Action>
      ))}
    </div>
  )
}
