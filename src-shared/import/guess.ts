import { AppError } from '#shared/domain/errors.ts'
import type { ImportMapping } from '#shared/domain/import.ts'
import { columnTitles, intervalInHeader, looksLikeIndex, looksLikeTime, timeUnitIn, voltageUnitIn } from './header.ts'
import { cellsOfLine, isOverloadWord, numberOf, walkLines } from './table.ts'

/** Lines looked at to find out how a file is written. */
const SAMPLE_LINES = 1000
const MAX_HEADER_LINES = 500
const MAX_COLUMNS = 200
const LONGEST_LINE = 100_000

type Form = Pick<ImportMapping, 'delimiter' | 'decimal'>
const FORMS: readonly Form[] = ([',', ';', '\t', '|', ' '] as const).flatMap((delimiter) => [
  { delimiter, decimal: '.' as const },
  { delimiter, decimal: ',' as const },
])

export interface Guess {
  readonly mapping: ImportMapping
  readonly titles: readonly string[]
  readonly warnings: readonly string[]
}

/** A cell that counts as a number while guessing: `001` is the second half of a decimal comma rather than a number. */
const seemsNumber = (cell: string, decimal: Form['decimal']): boolean =>
  !/^[+-]?0\d/.test(cell) && !Number.isNaN(numberOf(cell, decimal))

/** How much of a line is explained by a form: full marks for two or more numbers and nothing else. */
function scoreOf(line: string, form: Form): number {
  const cells = cellsOfLine(line, form.delimiter).filter((cell) => cell !== '')
  const numbers = cells.filter((cell) => seemsNumber(cell, form.decimal)).length
  return cells.length === 0 ? 0 : (numbers / cells.length) * Math.min(numbers, 2)
}

function sampleOf(text: string): string[] {
  const walker = walkLines(text)
  const lines: string[] = []
  for (let line = walker.next(); line !== null && lines.length < SAMPLE_LINES; line = walker.next()) {
    if (line.length > LONGEST_LINE)
      throw new AppError(
        'import-unreadable',
        `Line ${walker.line} has ${line.length} characters; this is not a table with one sample per line.`,
        'Save the recording as CSV text with one sample per line.',
      )
    lines.push(line)
  }
  return lines
}

function noTable(): AppError {
  return new AppError(
    'import-unreadable',
    'No table of numbers was found in the first 1000 lines.',
    'Save the recording as CSV text with a time and a voltage column.',
  )
}

/** Finds out how a file is written. Throws `import-unreadable` when it holds no table of numbers. */
export function guessMapping(text: string): Guess {
  const lines = sampleOf(text)
  let best: Form | null = null
  let bestScore = 0
  for (const form of FORMS) {
    const score = lines.reduce((sum, line) => sum + scoreOf(line, form), 0)
    // A later form must explain clearly more: integers read alike with either decimal sign.
    if (score > bestScore * 1.0001) {
      best = form
      bestScore = score
    }
  }
  if (best === null) throw noTable()
  return guessColumns(lines, best)
}

function guessColumns(lines: readonly string[], form: Form): Guess {
  const rows = lines.map((line) => cellsOfLine(line, form.delimiter))
  const isNumber = (row: readonly string[], column: number): boolean =>
    !Number.isNaN(numberOf(row[column] ?? '', form.decimal))
  // The second half of what was looked at is data, whatever the header is like.
  const tail = rows.slice(rows.length >> 1).filter((row) => row.some((cell) => cell !== ''))
  const width = tail.reduce((most, row) => Math.max(most, row.length), 0)
  if (width > MAX_COLUMNS)
    throw new AppError(
      'import-unreadable',
      `The table has ${width} columns; at most ${MAX_COLUMNS} are read.`,
      'Save one sample per line with a time and a voltage column.',
    )
  const numeric = Array.from({ length: width }, (_, column) => column).filter(
    (column) => tail.filter((row) => isNumber(row, column)).length * 2 >= tail.length,
  )
  if (tail.length === 0 || numeric.length === 0) throw noTable()
  const headerLines = headerLength(rows, numeric, isNumber)
  if (headerLines > MAX_HEADER_LINES)
    throw new AppError(
      'import-unreadable',
      `The numbers begin only in line ${headerLines + 1}; at most ${MAX_HEADER_LINES} header lines are read.`,
      'Remove the text above the table.',
    )
  const header = rows.slice(0, headerLines)
  const titles = columnTitles(header, width, form.decimal)
  const data = rows.slice(headerLines).filter((row) => isNumber(row, numeric[0] as number))
  const columnOf = (column: number): number[] =>
    data.map((row) => numberOf(row[column] ?? '', form.decimal)).filter((value) => !Number.isNaN(value))

  const timeColumn = timeColumnOf(numeric, titles, columnOf)
  const warnings: string[] = []
  const others = numeric.filter((column) => column !== timeColumn)
  const signals = others.filter((column) => !isIndex(columnOf(column)) && !looksLikeIndex(titles[column] ?? ''))
  const candidates = signals.length > 0 ? signals : others
  const voltages = candidates.filter((column) => voltageUnitIn(titles[column] ?? '') !== null)
  const choice = voltages.length > 0 ? voltages : candidates
  const voltageColumn = choice[0]
  if (voltageColumn === undefined)
    throw new AppError(
      'import-unreadable',
      'No column of voltages was found beside the time column.',
      'Save the recording with a time and a voltage column.',
    )
  if (choice.length > 1)
    warnings.push(
      `${choice.length} columns could hold the voltage; column ${voltageColumn + 1}${titles[voltageColumn] ? ` (${titles[voltageColumn]})` : ''} is taken.`,
    )
  const timeScale = timeColumn === null ? 1 : timeUnitIn(titles[timeColumn] ?? '')
  const voltageScale = voltageUnitIn(titles[voltageColumn] ?? '')
  const sensible = timeScale !== null || timeColumn === null || secondsMakeSense(columnOf(timeColumn))
  if (timeScale === null && sensible) warnings.push('The header names no unit of time; seconds are assumed.')
  if (voltageScale === null) warnings.push('The header names no unit of voltage; volts are assumed.')
  if (looksLikeDecimalCommas(form, data))
    warnings.push(
      'All numbers are whole and the columns come in pairs: these may be decimal commas. Check the preview.',
    )
  const interval = timeColumn === null ? intervalInHeader(lines.slice(0, headerLines), form) : null
  if (timeColumn === null && interval === null)
    warnings.push('There is no time column and no sample interval in the header; give the sample interval.')
  return {
    mapping: {
      ...form,
      headerLines,
      timeColumn,
      timeScaleS: timeScale ?? (sensible ? 1 : null),
      voltageColumn,
      voltageScaleV: voltageScale ?? 1,
      sampleIntervalS: interval,
    },
    titles,
    warnings,
  }
}

/** Lines before the first row whose every numeric column is a number, or stands empty or as an overload word in a row that is data. */
function headerLength(
  rows: readonly string[][],
  numeric: readonly number[],
  isNumber: (row: readonly string[], column: number) => boolean,
): number {
  let first = rows.findIndex((row) => numeric.every((column) => isNumber(row, column)))
  if (first < 0) throw noTable()
  // A record that starts with a damaged row is data from there on: taking the row for a title would lose its sample.
  const isDamaged = (row: readonly string[]): boolean => {
    const cells = numeric.map((column) => row[column])
    if (cells.some((cell) => cell === undefined)) return row.some(looksLikeBrokenNumber)
    return (
      numeric.some((column) => isNumber(row, column) || looksLikeBrokenNumber(row[column] ?? '')) &&
      numeric.every((column) => isNumber(row, column) || looksDamaged(row[column] ?? ''))
    )
  }
  while (first > 0 && isDamaged(rows[first - 1] as string[])) first -= 1
  return first
}

/** Mostly digits and yet no number, date or time of day. */
function looksLikeBrokenNumber(cell: string): boolean {
  const digits = cell.match(/\d/g)?.length ?? 0
  return digits > 0 && digits * 2 >= cell.length && !/[:/]|\d-\d/.test(cell) && Number.isNaN(numberOf(cell, '.'))
}

/** A cell that stands where a number should. */
function looksDamaged(cell: string): boolean {
  return cell === '' || isOverloadWord(cell) || looksLikeBrokenNumber(cell)
}

function isIndex(values: readonly number[]): boolean {
  return (
    values.length > 1 &&
    Number.isInteger(values[0]) &&
    values.every((v, i) => i === 0 || v === (values[i - 1] as number) + 1)
  )
}

function timeColumnOf(
  numeric: readonly number[],
  titles: readonly string[],
  columnOf: (column: number) => number[],
): number | null {
  const named = numeric.find(
    (column) =>
      looksLikeTime(titles[column] ?? '') ||
      (timeUnitIn(titles[column] ?? '') !== null && voltageUnitIn(titles[column] ?? '') === null),
  )
  if (named !== undefined && numeric.length > 1) {
    // `X` titles a plain sample count in some files; then there is no unit and only whole numbers, one apart.
    return timeUnitIn(titles[named] ?? '') === null && isIndex(columnOf(named)) ? null : named
  }
  if (numeric.length < 2) return null
  const rising = numeric.find((column) => {
    const values = columnOf(column)
    const ups = values.filter((v, i) => i > 0 && v >= (values[i - 1] as number)).length
    return ups >= 0.9 * (values.length - 1) && (values[values.length - 1] as number) > (values[0] as number)
  })
  if (rising === undefined) return null
  return isIndex(columnOf(rising)) || looksLikeIndex(titles[rising] ?? '') ? null : rising
}

/** Rates at which light is recorded, samples/s: outside of them a time column without a unit is not in seconds. */
const RATES = [500, 1e9] as const

/** Whether a time column taken as seconds is one of a recording; what is no time column at all is told elsewhere. */
function secondsMakeSense(times: readonly number[]): boolean {
  const span = (times[times.length - 1] ?? 0) - (times[0] ?? 0)
  if (!(span > 0) || times.length < 2) return true
  const rate = (times.length - 1) / span
  return rate >= RATES[0] && rate <= RATES[1]
}

function looksLikeDecimalCommas(form: Form, data: readonly string[][]): boolean {
  const width = data[0]?.length ?? 0
  return (
    form.delimiter === ',' &&
    width >= 4 &&
    width % 2 === 0 &&
    data.every((row) => row.length === width && row.every((cell) => /^-?\d+$/.test(cell)))
  )
}
