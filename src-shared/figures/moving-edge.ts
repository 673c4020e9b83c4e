import { xAxis } from './style.ts'
import * as Plot from '@observablehq/plot'
import { hertz } from '#shared/domain/quantity-text.ts'
import type { FigureData } from './point-data.ts'
import { type EdgePicture, type EdgeSet, type MovingEdge, srgbCode } from '#shared/findings/campaign/moving-edge.ts'
import { type FigureElement, type FigureHost, type FigureText, figureWidth, plotSvg } from './svg.ts'

const STRIPES = 200
const ROW = 46

/**
 * The edge as a tracking eye gets it, one strip a setting, at `pixelsPerS`. All strips share one scale: `peak` is drawn
 * white, and a dimmer setting stays dimmer. Light is averaged first and made into codes last.
 */
export function movingEdgeFigure(
  host: FigureHost,
  text: FigureText,
  pictures: readonly EdgePicture[],
  pixelsPerS: number,
  peak: number,
): FigureElement {
  const longest = Math.max(0, ...pictures.map(({ edge }) => (edge.timeS.at(-1) ?? 0) * pixelsPerS))
  const first = Math.min(0, ...pictures.map(({ edge }) => (edge.timeS[0] ?? 0) * pixelsPerS))
  const width = (longest - first) / STRIPES
  const stripes = pictures.flatMap(({ name, edge }) =>
    Array.from({ length: STRIPES }, (_, i) => {
      const x1 = first + width * i
      const x2 = first + width * (i + 1)
      const light = lightAt(edge, (x1 + x2) / 2 / pixelsPerS) / peak
      const code = Math.round(srgbCode(light))
      return { name, x1, x2, fill: `rgb(${code},${code},${code})` }
    }),
  )
  return plotSvg(host, text, {
    width: figureWidth(host),
    height: 54 + ROW * pictures.length,
    marginLeft: 120,
    marginBottom: 42,
    marginTop: 10,
    x: { domain: [first, longest], ...xAxis('Distance behind the edge, px') },
    y: { domain: pictures.map(({ name }) => name), label: null, tickSize: 0, padding: 0.08 },
    marks: [
      // A little wider than their share, so that no seam shows between two of them.
      Plot.barX(stripes, {
        x1: 'x1',
        x2: ({ x2 }: { x2: number }) => Math.min(longest, x2 + width / 2),
        y: 'name',
        fill: 'fill',
      }),
    ],
  })
}

/** Light of the edge at a time from the switch, s; before the first point the first, after the last the last. */
function lightAt({ timeS, light }: MovingEdge, at: number): number {
  const last = timeS.length - 1
  const first = timeS[0] as number
  const step = ((timeS[last] as number) - first) / last
  const x = Math.min(Math.max((at - first) / step, 0), last)
  const i = Math.min(Math.floor(x), last - 1)
  return (light[i] as number) + (x - i) * ((light[i + 1] as number) - (light[i] as number))
}

/** The numbers of the picture. */
export function movingEdgeData(pictures: readonly EdgePicture[]): FigureData {
  return {
    columns: ['setting', 'time_s', 'light'],
    rows: pictures.flatMap(({ name, edge }) => Array.from(edge.timeS, (at, i) => [name, at, edge.light[i] as number])),
  }
}

/** What the picture is, and what it takes for granted. */
export function movingEdgeCaption({ from, to, refreshHz }: EdgeSet, pixelsPerS: number): string {
  return (
    `Computed, not photographed: what an eye gets that follows an edge from ${from} to ${to} at ${pixelsPerS} px/s ` +
    `and ${hertz(refreshHz)} Hz. Assumes perfect pursuit and no optics of the eye; all strips share one brightness scale.`
  )
}
