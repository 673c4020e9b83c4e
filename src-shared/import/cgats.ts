/**
 * CGATS text (ISO 28178, CGATS.17) read and written. The layout follows public descriptions and readers of it; the
 * standard's own text was not at hand. Nothing here judges what the values mean.
 */
import { AppError } from '#shared/domain/errors.ts'
import { walkLines } from './table.ts'

export type CgatsValue = number | string

export interface CgatsTable {
  /** Keywords and values in order; a keyword without one has null. Counts and block marks are left out. */
  readonly keywords: readonly (readonly [keyword: string, value: CgatsValue | null])[]
  readonly fields: readonly string[]
  readonly rows: readonly (readonly CgatsValue[])[]
}

export interface Cgats {
  /** The first line, such as `CGATS.17`. */
  readonly identifier: string
  readonly tables: readonly CgatsTable[]
  readonly warnings: readonly string[]
}

export const MAX_CGATS_BYTES = 16 * 1024 * 1024
const MAX_TABLES = 255
const MAX_FIELDS = 4096
const MAX_TOKEN = 1024
/** Names are text even when they look like numbers: “007” is not 7. */
const TEXT_FIELDS = new Set(['SAMPLE_ID', 'SAMPLE_NAME', 'STRING'])
const NUMBER = /^[+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?$/

interface Token {
  readonly text: string
  readonly quoted: boolean
}

const fail = (line: number, what: string, remedy = 'Export the file again, or enter the values by hand.'): AppError =>
  new AppError('import-unreadable', `Line ${line}: ${what}`, remedy)

/** Tokens of a line; what follows `#` outside quotes is a comment. */
function tokensOf(text: string, line: number): Token[] {
  const tokens: Token[] = []
  const add = (token: Token): void => {
    if (token.text.length > MAX_TOKEN) throw fail(line, `a word is longer than ${MAX_TOKEN} characters.`)
    tokens.push(token)
  }
  let at = 0
  while (at < text.length) {
    const character = text[at] as string
    if (character === ' ' || character === '\t') at++
    else if (character === '#') break
    else if (character === '"' || character === "'") {
      const end = text.indexOf(character, at + 1)
      if (end < 0) throw fail(line, 'a quotation mark is never closed.')
      add({ text: text.slice(at + 1, end), quoted: true })
      at = end + 1
    } else {
      let end = at
      while (end < text.length && !' \t#"'.includes(text[end] as string)) end++
      add({ text: text.slice(at, end), quoted: false })
      at = end
    }
  }
  return tokens
}

function valueOf({ text, quoted }: Token, line: number): CgatsValue {
  if (quoted || !NUMBER.test(text)) return text
  const value = Number(text)
  if (!Number.isFinite(value)) throw fail(line, `${text} is too large for a number.`)
  return value
}

/** Throws `import-unreadable`, with the line, for anything that is not the format; oddities become warnings. */
export function readCgats(text: string): Cgats {
  if (text.length > MAX_CGATS_BYTES) throw new AppError('import-unreadable', 'The file is larger than 16 MiB.')
  if (text.includes('\0')) throw new AppError('import-unreadable', 'The file holds zero bytes and is no text.')
  const lines = walkLines(text.startsWith('\uFEFF') ? text.slice(1) : text)
  const identifier = lines.next()?.trim() ?? ''
  if (identifier === '' || identifier.length > MAX_TOKEN || /^BEGIN_DATA/i.test(identifier))
    throw new AppError('import-unreadable', 'The first line does not name the format, such as CGATS.17.')
  const tables: CgatsTable[] = []
  const warnings: string[] = []
  for (;;) {
    const table = readTable(lines, tables.length, warnings)
    if (table === null) break
    tables.push(table)
    if (tables.length > MAX_TABLES) throw fail(lines.line, `more than ${MAX_TABLES} tables.`)
  }
  if (tables.length === 0)
    throw new AppError('import-unreadable', 'There is no table: no BEGIN_DATA_FORMAT and BEGIN_DATA were found.')
  return { identifier, tables, warnings }
}

type Lines = ReturnType<typeof walkLines>

function readTable(lines: Lines, index: number, warnings: string[]): CgatsTable | null {
  const keywords: [string, CgatsValue | null][] = []
  const fields: string[] = []
  const counts: { fields: number | null; sets: number | null } = { fields: null, sets: null }
  let format = false
  for (let text = lines.next(); text !== null; text = lines.next()) {
    const { line } = lines
    const [first, second, ...rest] = tokensOf(text, line)
    if (first === undefined) continue
    const word = first.quoted ? '' : first.text.toUpperCase()
    if (word === '$INCLUDE' || word === '.INCLUDE')
      throw fail(line, 'another file is to be included; that is not done.', 'Join the files by hand.')
    if (word === 'BEGIN_DATA_FORMAT') {
      if (format) throw fail(line, 'the table has a second data format.')
      format = true
      readFields(lines, [second, ...rest], fields)
    } else if (word === 'BEGIN_DATA') {
      if (!format) throw fail(line, 'data come before their format.')
      const rows = readRows(lines, fields)
      if (counts.fields !== null && counts.fields !== fields.length)
        warnings.push(`Table ${index + 1} says ${counts.fields} fields and has ${fields.length}.`)
      if (counts.sets !== null && counts.sets !== rows.length)
        warnings.push(`Table ${index + 1} says ${counts.sets} rows and has ${rows.length}.`)
      return { keywords, fields, rows }
    } else if (word === 'END_DATA' || word === 'END_DATA_FORMAT') throw fail(line, `${word} without its beginning.`)
    else if (word === 'NUMBER_OF_FIELDS' || word === 'NUMBER_OF_SETS') {
      const count = second === undefined ? '' : valueOf(second, line)
      if (typeof count === 'number') counts[word === 'NUMBER_OF_FIELDS' ? 'fields' : 'sets'] = count
      else warnings.push(`Line ${line}: ${word} is no number.`)
    } else if (first.quoted) throw fail(line, 'a line begins with a text instead of a keyword.')
    // A later table may repeat the identifier; alone on its line and without data it is no keyword of the table.
    else if (index === 0 || second !== undefined || keywords.length > 0 || !/^(CGATS\.|IT8\.)/i.test(first.text)) {
      if (rest.length > 0) warnings.push(`Line ${line}: only the first value of ${first.text} is read.`)
      keywords.push([first.text, second === undefined ? null : valueOf(second, line)])
    }
  }
  if (format) throw fail(lines.line, 'the file ends before its data.')
  if (index > 0 && keywords.length > 0) warnings.push('Keywords after the last table belong to none and are left out.')
  return null
}

function readFields(lines: Lines, begun: readonly (Token | undefined)[], fields: string[]): void {
  const take = (tokens: readonly (Token | undefined)[], line: number): boolean => {
    for (const token of tokens) {
      if (token === undefined) continue
      if (!token.quoted && token.text.toUpperCase() === 'END_DATA_FORMAT') return true
      if (token.quoted || token.text === '') throw fail(line, 'a field’s name stands in quotation marks.')
      const repeats = fields.includes(token.text) && !/^SPECTRAL_(NM|DEC|PCT)$/i.test(token.text)
      if (repeats) throw fail(line, `the field ${token.text} comes twice.`)
      fields.push(token.text)
      if (fields.length > MAX_FIELDS) throw fail(line, `more than ${MAX_FIELDS} fields.`)
    }
    return false
  }
  let ended = take(begun, lines.line)
  while (!ended) {
    const text = lines.next()
    if (text === null) throw fail(lines.line, 'the file ends within the data format.')
    ended = take(tokensOf(text, lines.line), lines.line)
  }
  if (fields.length === 0) throw fail(lines.line, 'the data format has no fields.')
}

function readRows(lines: Lines, fields: readonly string[]): CgatsValue[][] {
  const texts = fields.map((field) => TEXT_FIELDS.has(field.toUpperCase()))
  const rows: CgatsValue[][] = []
  let row: CgatsValue[] = []
  for (let text = lines.next(); text !== null; text = lines.next()) {
    const { line } = lines
    const tokens = tokensOf(text, line)
    const [first] = tokens
    if (first === undefined) continue
    if (!first.quoted && first.text.toUpperCase() === 'END_DATA') {
      if (row.length > 0) throw fail(line, `the last row has ${row.length} of ${fields.length} values.`)
      return rows
    }
    // A row may go on on the next line, but each begins on a line of its own: a missing value shifts no others.
    if (row.length + tokens.length > fields.length)
      throw fail(line, `${row.length + tokens.length} values where the format has ${fields.length} fields.`)
    for (const token of tokens) row.push((texts[row.length] ?? false) ? token.text : valueOf(token, line))
    if (row.length === fields.length) {
      rows.push(row)
      row = []
    }
  }
  throw fail(lines.line, 'the file ends before END_DATA.')
}

/** The same tables as text, which `readCgats` reads back unchanged. RangeError for text that cannot be written. */
export function writeCgats({ identifier, tables }: Pick<Cgats, 'identifier' | 'tables'>): string {
  const lines = [identifier]
  for (const { keywords, fields, rows } of tables) {
    for (const [keyword, value] of keywords)
      lines.push(
        value === null ? keyword : `${keyword}\t${typeof value === 'number' ? numberText(value) : quoted(value)}`,
      )
    lines.push(`NUMBER_OF_FIELDS\t${fields.length}`, 'BEGIN_DATA_FORMAT', fields.join('\t'), 'END_DATA_FORMAT')
    lines.push(`NUMBER_OF_SETS\t${rows.length}`, 'BEGIN_DATA')
    for (const row of rows)
      lines.push(row.map((value) => (typeof value === 'number' ? numberText(value) : quoted(value))).join('\t'))
    lines.push('END_DATA')
  }
  return `${lines.join('\n')}\n`
}

const numberText = (value: number): string => {
  if (!Number.isFinite(value)) throw new RangeError('only finite numbers can be written')
  return Object.is(value, -0) ? '-0' : String(value)
}

function quoted(text: string): string {
  if (/[\r\n\0]/.test(text) || (text.includes('"') && text.includes("'")))
    throw new RangeError('a text with line ends or both quotation marks cannot be written')
  return text.includes('"') ? `'${text}'` : `"${text}"`
}
