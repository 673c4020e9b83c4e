import * as Plot from '@observablehq/plot'
import { xyOf, uvPrimeOf, type Pair, type Xyz } from '#shared/colour/chromaticity.ts'
import { triangleIn, type Diagram, type Primaries } from '#shared/colour/gamut.ts'
import { OBSERVER } from '#shared/colour/observer.ts'
import { GAMUT_IDS, GAMUTS, gamutPrimaries } from '#shared/colour/targets.ts'
import { INK, seriesStyle, xAxis } from './style.ts'
import { type FigureElement, type FigureHost, plotSvg } from './svg.ts'

export interface GamutPicture {
  readonly name: string
  readonly primaries: Primaries
  readonly white: Xyz
}

const SIZE = 400
const DASHES = ['none', '6 3', '2 3']

/** Colours of single wavelengths, every 5 nm, closed by the line of purples. */
function spectrumLocus(diagram: Diagram): Pair[] {
  const [xBar, yBar, zBar] = OBSERVER
  const points: Pair[] = []
  // 380 to 700 nm: beyond them the locus stands still.
  for (let k = 20; k <= 340; k += 5) {
    const xy = xyOf([xBar[k] as number, yBar[k] as number, zBar[k] as number])
    if (xy !== null) points.push(diagram === 'xy' ? xy : uvPrimeOf(xy))
  }
  return [...points, points[0] as Pair]
}

/** Triangles of a display's states over those of the standards, in 1931 x, y or 1976 u′, v′ at one scale in both. */
export function gamutFigure(host: FigureHost, diagram: Diagram, pictures: readonly GamutPicture[]): FigureElement {
  const closed = (primaries: Primaries): Pair[] => {
    const triangle = triangleIn(primaries, diagram)
    return triangle === null ? [] : [...triangle, triangle[0]]
  }
  const standards = GAMUT_IDS.map((id) => {
    const [r, g, b] = gamutPrimaries(id)
    return { name: GAMUTS[id].label, points: closed([r, g, b]) }
  })
  const top: Pair = diagram === 'xy' ? [0.8, 0.9] : [0.65, 0.65]
  const [x, y] = diagram === 'xy' ? ['x', 'y'] : ['u′', 'v′']
  return plotSvg(
    host,
    {
      id: `gamut-${diagram}`,
      description: `Gamut of the display in the ${diagram === 'xy' ? 'CIE 1931 x, y' : 'CIE 1976 u′, v′'} diagram with ${standards.map(({ name }) => name).join(', ')}.`,
    },
    {
      width: (SIZE * top[0]) / top[1] + 70,
      height: SIZE + 50,
      marginLeft: 44,
      marginRight: 26,
      marginBottom: 40,
      marginTop: 10,
      x: { domain: [0, top[0]], ...xAxis(x), ticks: 6 },
      y: { domain: [0, top[1]], label: y, labelArrow: 'none', ticks: 6 },
      marks: [
        Plot.line(spectrumLocus(diagram), { stroke: INK, strokeOpacity: 0.45, strokeWidth: 2 }),
        ...standards.flatMap(({ name, points }, index) => {
          // The key stands right at the bottom, where neither diagram has colours.
          const y = (0.03 + 0.05 * (standards.length - 1 - index)) * top[1]
          const style = { stroke: INK, strokeOpacity: 0.8, strokeDasharray: DASHES[index] ?? 'none' }
          const key: Pair[] = [
            [0.68 * top[0], y],
            [0.76 * top[0], y],
          ]
          return [
            Plot.line(points, style),
            Plot.line(key, style),
            Plot.text([[0.78 * top[0], y]], { text: () => name, textAnchor: 'start', fill: INK }),
          ]
        }),
        ...pictures.flatMap(({ name, primaries, white }, index) => {
          const { colour, dash, symbol } = seriesStyle(index)
          // Its name stands right at the top, where neither diagram has colours.
          const y = (0.97 - 0.05 * index) * top[1]
          const style = { stroke: colour, strokeWidth: 2.5, strokeDasharray: dash }
          const key: Pair[] = [
            [0.58 * top[0], y],
            [0.66 * top[0], y],
          ]
          const points = closed(primaries)
          const xy = xyOf(white)
          const at = xy === null ? [] : [diagram === 'xy' ? xy : uvPrimeOf(xy)]
          return [
            Plot.line(points, style),
            Plot.line(key, style),
            Plot.dot([...points, ...at], { fill: colour, symbol, r: 4 }),
            Plot.text([[0.68 * top[0], y]], {
              text: () => name,
              textAnchor: 'start',
              fill: colour,
              fontWeight: 600,
            }),
          ]
        }),
      ],
    },
  )
}
