/** Figures as files of their own: the picture on paper, and the numbers drawn. */
import { harmlessCell } from '#shared/domain/harmless-cell.ts'
import type { FigureData } from './point-data.ts'
import { LIGHT, withColours } from './style.ts'

/** Significant digits of a number drawn: more than any eye or uncertainty needs, fewer than runtimes may differ in. */
const DIGITS = 9

/** Whatever the theme of the page it was drawn for: colours written out, and a font of its own. */
export const figureSvg = (svg: string, font = 'system-ui, sans-serif'): string =>
  withColours(svg.replace('font-family="inherit"', `font-family="${font}"`), LIGHT)

/**
 * RFC 4180: CRLF, a title line, quotes where needed, an absent number is empty. Numbers are rounded, so
 * that an altered one is told from another runtime's last digit.
 */
export const figureCsv = ({ columns, rows }: FigureData): string =>
  [columns, ...rows].map((row) => `${row.map(quoted).join(',')}\r\n`).join('')

function quoted(cell: string | number | null): string {
  if (typeof cell === 'number') return String(Number.isInteger(cell) ? cell : Number(cell.toPrecision(DIGITS)))
  const text = cell === null ? '' : harmlessCell(cell)
  return /[",\n\r]/.test(text) ? `"${text.replaceAll('"', '""')}"` : text
}
