import { type ReactNode, type RefObject, useEffect, useRef } from 'react'
import type { FigureData } from '#shared/figures/point-data.ts'
import type { FigureElement, FigureHost } from '#shared/figures/svg.ts'
import { useNotices } from '../client/notices.tsx'
import { saveFigureData, saveFigurePng, saveFigureSvg } from '../client/save-figure.ts'
import { Action } from '../ui/controls.tsx'

/**
 * Draws a figure with the page's own document; the element is made anew when `draw` is another function. `children` lie
 * over the picture and are placed by shares of its size.
 */
export function FigureView(props: {
  readonly draw: (host: FigureHost) => FigureElement
  readonly caption: string
  readonly children?: ReactNode
  /** Name of its files, and the numbers drawn; without it the figure is only looked at. */
  readonly file?: { readonly name: string; readonly data: FigureData }
}) {
  const { draw, caption, children, file } = props
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
      {file === undefined ? null : <FigureFiles caption={caption} file={file} holder={holder} />}
    </figure>
  )
}

function FigureFiles(props: {
  readonly caption: string
  readonly file: { readonly name: string; readonly data: FigureData }
  readonly holder: RefObject<HTMLDivElement | null>
}) {
  const { caption, file, holder } = props
  const notices = useNotices()
  const drawn = (save: (element: Element) => void | Promise<void>) => () => {
    const element = holder.current?.querySelector('svg')
    if (element == null) return
    Promise.resolve(save(element)).catch(() =>
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
