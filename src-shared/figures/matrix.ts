import * as Plot from '@observablehq/plot'
import { fixed } from '#shared/domain/quantity-text.ts'
import { FAINT, INK, LIMIT, PAPER } from './style.ts'
import { type FigureElement, type FigureHost, type FigureText, plotSvg } from './svg.ts'

export interface MatrixFigureCell {
  readonly from: number
  readonly to: number
  /** In the unit printed; null where there is none. */
  readonly value: number | null
  readonly outside: boolean
}

/**
 * From level (rows) to level (columns). The number is printed; behind it a disc whose area grows from good to bad over
 * `range`, and a notch marks what lies outside the limit. It needs no colour, so it survives any printer.
 */
export function matrixFigure(
  host: FigureHost,
  text: FigureText,
  cells: readonly MatrixFigureCell[],
  range: readonly [good: number, bad: number],
  decimals: number,
): FigureElement {
  const levels = [...new Set(cells.flatMap(({ from, to }) => [from, to]))].sort((a, b) => a - b)
  const size = Math.min(64, Math.max(44, 560 / Math.max(levels.length, 1)))
  const share = (value: number): number => Math.min(1, Math.max(0, (value - range[0]) / (range[1] - range[0] || 1)))
  const filled = cells.flatMap((cell) => (cell.value === null ? [] : [{ ...cell, value: cell.value }]))
  return plotSvg(host, text, {
    width: 76 + size * levels.length,
    height: 66 + size * 0.72 * levels.length,
    marginLeft: 62,
    marginTop: 54,
    marginRight: 14,
    marginBottom: 12,
    x: { domain: levels, type: 'band', axis: 'top', label: 'To level', tickSize: 0, padding: 0.05, labelArrow: 'none' },
    y: { domain: levels, type: 'band', label: 'From level', tickSize: 0, padding: 0.05, labelArrow: 'none' },
    r: { type: 'identity' },
    marks: [
      Plot.cell(cells, { x: 'to', y: 'from', fill: 'none', stroke: FAINT, rx: 2 }),
      Plot.dot(filled, {
        x: 'to',
        y: 'from',
        r: ({ value }: { value: number }) => 0.34 * size * Math.sqrt(share(value)),
        fill: INK,
        fillOpacity: 0.14,
        stroke: 'none',
      }),
      Plot.text(filled, {
        x: 'to',
        y: 'from',
        text: ({ value }: { value: number }) => fixed(value, decimals),
        fill: INK,
        stroke: PAPER,
        strokeWidth: 2,
        fontVariant: 'tabular-nums',
      }),
      Plot.text(
        filled.filter(({ outside }) => outside),
        { x: 'to', y: 'from', text: () => '◥', dx: size / 2 - 8, dy: -size * 0.36 + 8, fontSize: 12, fill: LIMIT },
      ),
    ],
  })
}
