import * as Plot from '@observablehq/plot'

/** An element as far as figures need one: shared code knows neither browser nor page. */
export interface FigureElement {
  readonly tagName: string
  readonly outerHTML: string
  getAttribute(name: string): string | null
  setAttribute(name: string, value: string): void
  removeAttribute(name: string): void
  querySelector(selector: string): FigureElement | null
  querySelectorAll(selector: string): Iterable<FigureElement>
  remove(): void
}

/** What makes elements: the browser's document, or one made by a library where there is no browser. */
export interface FigureHost {
  readonly document: NonNullable<Plot.PlotOptions['document']>
  /** Room there is, px: a figure is drawn narrower rather than shrunk, so that its text keeps its size. */
  readonly width?: number
}

/** Of a figure with room enough, and the least its text and margins need; px. */
const USUAL_WIDTH = 680
const LEAST_WIDTH = 420

export const figureWidth = ({ width = USUAL_WIDTH }: FigureHost): number =>
  Math.max(LEAST_WIDTH, Math.min(USUAL_WIDTH, width))

export interface FigureText {
  /** Unique in its document; names in the figure are made from it. */
  readonly id: string
  /** Read to those who cannot see it: what the figure shows. */
  readonly description: string
}

/** Text no smaller than 12 px at the size figures are shown in. */
const FONT_SIZE = 13

/** A plot as an SVG element with its description; never a figure with HTML around it. RangeError if it is not one. */
export function plotSvg(
  { document }: FigureHost,
  { id, description }: FigureText,
  options: Plot.PlotOptions,
): FigureElement {
  const made: unknown = Plot.plot({ ...options, document, className: 'fig' })
  const element = made as FigureElement
  if (element.tagName.toLowerCase() !== 'svg') throw new RangeError('a figure must be one SVG element')
  // The figure is one picture with one description; names on its parts would be read without a role.
  for (const part of element.querySelectorAll('[aria-label]')) part.removeAttribute('aria-label')
  element.setAttribute('xmlns', 'http://www.w3.org/2000/svg')
  element.setAttribute('role', 'img')
  element.setAttribute('aria-label', description)
  element.setAttribute('font-size', String(FONT_SIZE))
  element.setAttribute('font-family', 'inherit')
  element.setAttribute('fill', 'var(--fig-ink)')
  // Names of clips count upward within a program; from the figure's own name they are the same on every run.
  const clips = [...element.querySelectorAll('clipPath')]
  clips.forEach((clip, i) => {
    const before = clip.getAttribute('id') ?? ''
    const name = `${id}-clip-${i + 1}`
    clip.setAttribute('id', name)
    for (const user of element.querySelectorAll('[clip-path]')) {
      if (user.getAttribute('clip-path') === `url(#${before})`) user.setAttribute('clip-path', `url(#${name})`)
    }
  })
  // The style Plot adds is the same for all figures and stands once in the page's own sheet.
  element.querySelector('style')?.remove()
  return element
}

/** What the removed style said, for pages and files that show figures. */
export const FIGURE_CSS = `.fig { display: block; height: auto; max-width: 100%; } .fig text, .fig tspan { white-space: pre; }`
