/** Units, names and the sample interval from the lines above the numbers. */
import type { ImportMapping } from '#shared/domain/import.ts'
import { cellsOfLine, numberOf } from './table.ts'

const TIME_UNITS: readonly (readonly [RegExp, number])[] = [
  [/^(?:s|sec|secs|second|seconds|sekunden?)$/i, 1],
  [/^(?:ms|msec|msecs|milliseconds?)$/i, 1e-3],
  [/^(?:[uµμ\uFFFD]s|usec|µsec|microseconds?)$/i, 1e-6],
  [/^(?:ns|nsec|nanoseconds?)$/i, 1e-9],
  [/^(?:min|minutes?)$/i, 60],
]
const VOLTAGE_UNITS: readonly (readonly [RegExp, number])[] = [
  [/^(?:v|volts?)$/i, 1],
  [/^(?:mv|millivolts?)$/i, 1e-3],
  [/^(?:[uµμ\uFFFD]v|microvolts?)$/i, 1e-6],
  [/^(?:kv|kilovolts?)$/i, 1e3],
]
const RATE_UNITS: readonly (readonly [RegExp, number])[] = [
  [/^(?:hz|sa\/s|s\/s|sps|samples\/s)$/i, 1],
  [/^(?:khz|ksa\/s|ks\/s|ksps)$/i, 1e3],
  [/^(?:mhz|msa\/s|ms\/s|msps)$/i, 1e6],
  [/^(?:ghz|gsa\/s|gs\/s|gsps)$/i, 1e9],
]

/** Scale of the last unit among the words of a text; null when there is none. */
function unitIn(text: string, units: readonly (readonly [RegExp, number])[]): number | null {
  const words = text.split(/[\s()[\]{},;:_"'=]+|(?<![a-z])\/|\/(?=[^s])/i)
  const scales = words.flatMap((word) => units.find(([pattern]) => pattern.test(word))?.[1] ?? [])
  return scales[scales.length - 1] ?? null
}

export const timeUnitIn = (text: string): number | null => unitIn(text, TIME_UNITS)
export const voltageUnitIn = (text: string): number | null => unitIn(text, VOLTAGE_UNITS)

export const looksLikeTime = (text: string): boolean =>
  /\btime|time\b|^t\b|zeit|temps|tiempo|^x(?:$|[\s([])|second|seconds/i.test(text)
export const looksLikeIndex = (text: string): boolean =>
  /^(?:#|n|no|nr|i|index|sample|samples|point|points|count|sequence|row)\b/i.test(text)

const isUnit = (cell: string): boolean =>
  [...TIME_UNITS, ...VOLTAGE_UNITS].some(([pattern]) => pattern.test(cell.replace(/[()[\]]/g, '')))

/**
 * Titles of the columns: the last line above the numbers that has any text, and the one above it too where the last
 * holds nothing but units.
 */
export function columnTitles(
  header: readonly string[][],
  width: number,
  decimal: ImportMapping['decimal'],
): readonly string[] {
  const filled = header.filter((cells) => cells.some((cell) => cell !== ''))
  const last = filled[filled.length - 1] ?? []
  const words = last.filter((cell) => cell !== '')
  const above = filled[filled.length - 2]
  const lines = words.every(isUnit) && above?.length === last.length ? [above, last] : [last]
  return Array.from({ length: width }, (_, column) =>
    lines
      .map((cells) => cells[column] ?? '')
      .filter((cell) => cell !== '' && Number.isNaN(numberOf(cell, decimal)))
      .join(' '),
  )
}

const INTERVAL =
  /sampl(?:e|ing) ?(?:interval|period|time)|(?:time|x|horizontal) ?(?:increment|interval|step)|^increment|tint|delta ?t|^dt\b/i
const RATE = /sampl(?:e|ing) ?(?:rate|frequency)|samples ?(?:\/|per) ?s(?:ec(?:ond)?)?/i

/** Sample interval in s stated in the header, as `Sample Interval,1e-05` or `Sampling rate: 50 kHz`; null without one. */
export function intervalInHeader(
  lines: readonly string[],
  mapping: Pick<ImportMapping, 'delimiter' | 'decimal'>,
): number | null {
  for (const line of lines) {
    const isInterval = INTERVAL.test(line)
    if (!isInterval && !RATE.test(line)) continue
    const match = (isInterval ? INTERVAL : RATE).exec(line) as RegExpExecArray
    const rest = line.slice(match.index + match[0].length)
    const found = /([+-]?\d+(?:[.,]\d+)?(?:e[+-]?\d+)?)\s*([a-zµμ/]*)/i.exec(rest)
    if (!found) continue
    const text = found[1] as string
    const value = numberOf(text.replace(',', '.'), '.')
    const units = `${found[2] ?? ''} ${match[0]} ${rest.slice(0, found.index)}`
    if (!(value > 0)) continue
    return isInterval ? value * (timeUnitIn(units) ?? 1) : 1 / (value * (unitIn(units, RATE_UNITS) ?? 1))
  }
  return intervalUnderTitle(lines, mapping)
}

/** The form in which a column titled `Increment` holds the interval in the line below. */
function intervalUnderTitle(
  lines: readonly string[],
  { delimiter, decimal }: Pick<ImportMapping, 'delimiter' | 'decimal'>,
): number | null {
  for (let i = 0; i + 1 < lines.length; i++) {
    const column = cellsOfLine(lines[i] ?? '', delimiter).findIndex((cell) => /^(?:x ?)?increment$/i.test(cell))
    if (column < 0) continue
    const value = numberOf(cellsOfLine(lines[i + 1] ?? '', delimiter)[column] ?? '', decimal)
    if (value > 0) return value
  }
  return null
}
