/** Lines, cells and numbers of delimited text. Nothing here judges what the numbers mean. */
import type { ImportMapping } from '#shared/domain/import.ts'

/** Walks over the lines of a text; `\n`, `\r\n` and lone `\r` end a line. Numbers of lines are 1-based. */
export interface LineWalker {
  /** The next line without its end, or null after the last. An end of line at the end of the text opens no new line. */
  next(): string | null
  /** Number of the line given last. */
  readonly line: number
  /** True when the line given last had no line end: it may be cut off. */
  readonly unfinished: boolean
}

export function walkLines(text: string): LineWalker {
  // A file with line feeds ends its lines there; only files without any are split at carriage returns.
  const end = text.includes('\n') ? '\n' : '\r'
  let at = 0
  let line = 0
  let unfinished = false
  return {
    next() {
      if (at >= text.length) return null
      const found = text.indexOf(end, at)
      unfinished = found < 0
      const stop = unfinished ? text.length : found
      const cut = stop > at && text.charCodeAt(stop - 1) === 13 ? stop - 1 : stop
      const content = text.slice(at, cut)
      at = stop + 1
      line += 1
      return content
    },
    get line() {
      return line
    },
    get unfinished() {
      return unfinished
    },
  }
}

/** Cells of one line, trimmed. Quoted cells (RFC 4180) may hold the delimiter; runs of spaces count as one. */
export function cellsOfLine(line: string, delimiter: ImportMapping['delimiter']): string[] {
  if (!line.includes('"')) {
    if (delimiter === ' ') {
      const trimmed = line.trim()
      return trimmed === '' ? [] : trimmed.split(/[ ]+/)
    }
    return line.split(delimiter).map((cell) => cell.trim())
  }
  const cells: string[] = []
  let at = 0
  while (at <= line.length) {
    while (line[at] === ' ') at += 1
    const quoted = line[at] === '"' ? quotedCell(line, at) : null
    if (quoted) {
      const next = line.indexOf(delimiter, quoted.end)
      cells.push((quoted.content + line.slice(quoted.end, next < 0 ? line.length : next)).trim())
      at = next < 0 ? line.length + 1 : next + 1
    } else {
      const next = line.indexOf(delimiter, at)
      const stop = next < 0 ? line.length : next
      if (delimiter !== ' ' || stop > at) cells.push(line.slice(at, stop).trim())
      at = stop + 1
    }
  }
  return cells
}

/** Content of the quoted cell that begins at a quote, and the place after its closing quote; null when it is never closed. */
function quotedCell(line: string, start: number): { content: string; end: number } | null {
  let content = ''
  let at = start + 1
  for (;;) {
    const quote = line.indexOf('"', at)
    if (quote < 0) return null
    content += line.slice(at, quote)
    at = quote + 1
    if (line[at] !== '"') return { content, end: at }
    content += '"'
    at += 1
  }
}

const WITH_POINT = /^[+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d{1,4})?$/
const WITH_COMMA = /^[+-]?(?:\d+,?\d*|,\d+)(?:[eE][+-]?\d{1,4})?$/

/** The number a cell holds, NaN when it is not exactly one. Thousands separators, hexadecimal and words are not numbers. */
export function numberOf(cell: string, decimal: ImportMapping['decimal']): number {
  if (decimal === '.') return WITH_POINT.test(cell) ? Number(cell) : NaN
  return WITH_COMMA.test(cell) ? Number(cell.replace(',', '.')) : NaN
}

/** Place value of the last written digit, e.g. 1e-7 for `1.2345E-03`; 1 for a whole number. */
export function resolutionOf(cell: string, decimal: ImportMapping['decimal']): number {
  const [mantissa = '', exponent = '0'] = cell.toLowerCase().split('e')
  const point = mantissa.indexOf(decimal)
  const decimals = point < 0 ? 0 : mantissa.length - point - 1
  return 10 ** (Number(exponent) - decimals)
}

/** Words instruments write where there is no number. */
export function isOverloadWord(cell: string): boolean {
  return /^(?:[+-]?(?:nan|inf(?:inity)?|ovld|ovl|ol|overload|overrange|clipped|1\.#\w+)|[*#?-]{1,8}|n\/?a|null|none)$/i.test(
    cell,
  )
}
