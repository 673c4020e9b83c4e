/** Tables of other instruments, typed, pasted or as files, made into rows of a kind of reading. */
import { AppError } from '#shared/domain/errors.ts'
import { MAX_SERIES, recordKind, rowsOf, type RecordColumn, type RecordKindId } from '#shared/domain/record-kinds.ts'
import type { Reading } from '#shared/domain/reading.ts'
import { xyzOf } from '#shared/colour/chromaticity.ts'
import { readCgats, writeCgats, type CgatsTable, type CgatsValue } from './cgats.ts'
import { NUMBER, numberIn } from './strict-number.ts'
import { lightOf, spectrumIn, type Spectrum } from './spectral-fields.ts'
import { cellsOfLine, walkLines } from './table.ts'
import { plural } from '#shared/domain/quantity-text.ts'

/** What a file does not say and must be asked. */
export interface RecordMapping {
  /** Largest RGB value of the file. */
  readonly rgbMax: 1 | 100 | 255
  /** Luminance of white in cd/m² where XYZ are relative (Y = 100 at white); null where they are absolute. */
  readonly whiteLuminance: number | null
}

export const ABSOLUTE: RecordMapping = { rgbMax: 255, whiteLuminance: null }

export interface RecordTable {
  readonly rows: readonly (readonly number[])[]
  /** What the colours of each row were computed from, W/(m²·sr·nm); empty where the table gives the colours themselves. */
  readonly spectra: readonly Spectrum[]
  /** What the file says of its origin, for the reading's source. */
  readonly origin: string
  readonly warnings: readonly string[]
}

interface NamedTable {
  readonly fields: readonly string[]
  readonly rows: readonly (readonly CgatsValue[])[]
}

/** Reads CGATS by its first line, else a delimited table whose first line may name its columns. */
export function readRecordTable(kind: RecordKindId, text: string, mapping: RecordMapping): RecordTable {
  const table = tableOf(kind, text, mapping)
  return kind === 'colour-patches' ? { ...table, warnings: [...table.warnings, ...repeatedPatches(table.rows)] } : table
}

function repeatedPatches(rows: RecordTable['rows']): string[] {
  const counts = new Map<string, number>()
  for (const [r, g, b] of rows) {
    const codes = [r, g, b].join(', ')
    counts.set(codes, (counts.get(codes) ?? 0) + 1)
  }
  const repeated = [...counts].filter(([, count]) => count > 1)
  const [first] = repeated
  if (first === undefined) return []
  return [
    repeated.length === 1
      ? `RGB ${first[0]} comes ${first[1]} times; the mean counts.`
      : `${repeated.length} patches come more than once, such as RGB ${first[0]}; of each the mean counts.`,
  ]
}

function tableOf(kind: RecordKindId, text: string, mapping: RecordMapping): RecordTable {
  const start = text.replace(/^\uFEFF/, '')
  if (/^\s*(CGATS\.|IT8\.)/i.test(start) || /\bBEGIN_DATA_FORMAT\b/.test(start.slice(0, 20_000)))
    return fromCgats(kind, text, mapping)
  const table = readDelimited(kind, start)
  return { ...mappedRows(kind, table, mapping), origin: '', warnings: [] }
}

function fromCgats(kind: RecordKindId, text: string, mapping: RecordMapping): RecordTable {
  const { tables, identifier, warnings } = readCgats(text)
  const fitting = tables.filter((table) => readerOf(kind, table.fields) !== null)
  const [first] = fitting
  if (first === undefined)
    throw noColumns(
      kind,
      tables.flatMap(({ fields }) => fields),
    )
  const said = ['ORIGINATOR', 'INSTRUMENTATION', 'DESCRIPTOR', 'FILE_DESCRIPTOR', 'CREATED'].flatMap((keyword) => {
    const found = first.keywords.find(
      ([name, value]) => name.toUpperCase() === keyword && value !== null && value !== '',
    )
    return found === undefined ? [] : [String(found[1])]
  })
  const mapped = fitting.map((table: CgatsTable) => mappedRows(kind, table, mapping))
  const rows = mapped.flatMap((table) => table.rows)
  const spectra = mapped.flatMap((table) => table.spectra)
  return {
    rows,
    // Of all rows or of none: they are told apart by their places.
    spectra: spectra.length === rows.length ? spectra : [],
    origin: [identifier, ...said].join('; '),
    warnings,
  }
}

/** Tab, semicolon, comma or blanks between the cells, whichever the first line with numbers has. */
function readDelimited(kind: RecordKindId, text: string): NamedTable {
  const lines = walkLines(text)
  const filled: string[] = []
  for (let line = lines.next(); line !== null; line = lines.next()) {
    const content = line.trim()
    if (content !== '' && !content.startsWith('#')) filled.push(content)
    if (filled.length > MAX_SERIES + 1)
      throw new AppError(
        'import-unreadable',
        `There are more than ${MAX_SERIES} rows, which no reading holds.`,
        'Split them into several files.',
      )
  }
  const [first] = filled
  if (first === undefined) throw new AppError('import-unreadable', 'There are no rows.', 'Write one row a line.')
  const delimiter = (['\t', ';', ','] as const).find((one) => first.includes(one)) ?? ' '
  const cells = filled.map((line) => cellsOfLine(line, delimiter))
  const fields = namesIn(kind, cells[0] as string[])
  if (fields !== null) refuseTwice(kind, fields)
  const rows = fields === null ? cells : cells.slice(1)
  const known = fields ?? recordKind(kind).columns.map(({ id }) => id)
  rows.forEach((row, i) => refuseOddRow(row, known, fields === null, i + 1))
  return { fields: known, rows }
}

/** The first line's cells where they are names; null where the line is a row of values already. */
function namesIn(kind: RecordKindId, cells: readonly string[]): readonly string[] | null {
  if (cells.every((cell) => NUMBER.test(cell.replace('\u2212', '-')))) return null
  // Names may be numbers too, of wavelengths; else what begins with a number is one that something is wrong with.
  return readerOf(kind, cells) !== null || !/^[+\u2212-]?[.,]?\d/.test(cells[0] ?? '') ? cells : null
}

/** A value too many is never dropped: it may be the half of a number with a decimal comma. */
function refuseOddRow(row: readonly string[], fields: readonly string[], unnamed: boolean, number: number): void {
  const filled = row.findLastIndex((cell) => cell !== '') + 1
  if (filled <= fields.length && (!unnamed || filled === fields.length)) return
  throw new AppError(
    'import-unreadable',
    `Row ${number} has ${plural(filled, 'value')} (${row.slice(0, 6).join(' · ')}) where ${plural(fields.length, 'is', 'are')} taken.`,
    'Write numbers with a point, not a comma, and without units; one row a line.',
  )
}

/** Names under which a column is known in files; compared without case, blanks, units and marks. */
const ALIASES: Readonly<Record<string, readonly string[]>> = {
  r: ['rgbr', 'red'],
  g: ['rgbg', 'green'],
  b: ['rgbb', 'blue'],
  x: ['xyzx'],
  y: ['xyzy'],
  z: ['xyzz'],
  code: ['level', 'grey', 'gray', 'greylevel', 'graylevel', 'rgbr'],
  luminance: ['l', 'cdm2', 'xyzy', 'xyycapy', 'luminancecdm2'],
  degrees: ['angle', 'angledeg'],
  power: ['w', 'watts', 'powerw'],
  area: ['aream2'],
  minutes: ['time', 'timemin', 'min'],
  delay: ['latency', 'delayms', 'latencyms'],
  refresh: ['hz', 'refreshhz'],
}
/** Which of two is meant is never guessed: x is a chromaticity, X is not. */
function refuseTwice(kind: RecordKindId, fields: readonly string[]): void {
  for (const column of recordKind(kind).columns) {
    const named = fields.filter((field) => indexOf([field], column) === 0)
    const twice = named.find((field, i) => named.findIndex((other) => plain(other) === plain(field)) < i)
    if (twice === undefined) continue
    throw new AppError(
      'import-unreadable',
      `${column.label} could be any of the columns ${named.join(', ')}.`,
      'Keep the one that is meant, or give the others another name.',
    )
  }
}

const plain = (name: string): string => name.toLowerCase().replace(/[^a-z0-9]/g, '')

function indexOf(fields: readonly string[], column: Pick<RecordColumn, 'id' | 'label'>): number {
  const known = [column.id, column.label, ...(ALIASES[column.id] ?? [])].map(plain)
  return fields.findIndex((field) => known.includes(plain(field)))
}

/** A row's values in the order of the kind's columns, and what its colour was computed from. */
type RowReader = (
  row: readonly CgatsValue[],
  number: number,
) => { readonly values: readonly number[]; readonly spectrum: Spectrum | null }

/** How rows of a kind are read from a table with these fields; null where a column is missing. */
function readerOf(kind: RecordKindId, fields: readonly string[]): RowReader | null {
  const { columns } = recordKind(kind)
  const direct = columns.map((column) => indexOf(fields, column))
  const plainly = (first: number, end: number): ((row: readonly CgatsValue[], number: number) => number[]) | null => {
    const own = columns.slice(first, end).map(({ label }, i) => plainColumn(direct[first + i] as number, label))
    return direct.slice(first, end).some((index) => index < 0)
      ? null
      : (row, number) => own.map((column) => column(row, number))
  }
  const all = plainly(0, columns.length)
  if (kind !== 'colour-patches')
    return all === null ? null : (row, number) => ({ values: all(row, number), spectrum: null })
  if (all !== null) {
    const beside = spectrumBeside(fields)
    return (row, number) => {
      const values = all(row, number)
      return { values, spectrum: beside(row, number, values.slice(3)) }
    }
  }
  const codes = plainly(0, 3)
  if (codes === null) return null
  const chromaticity = chromaticityIn(fields)
  if (chromaticity !== null)
    return (row, number) => ({ values: [...codes(row, number), ...chromaticity(row, number)], spectrum: null })
  const spectrumOf = spectrumIn(fields)
  if (spectrumOf === null) return null
  return (row, number) => {
    const spectrum = spectrumOf(row, number)
    return { values: [...codes(row, number), ...lightOf(spectrum)], spectrum }
  }
}

/** How far colours and those of their spectrum are apart at most that were computed from it, of the largest of X, Y, Z. */
const SAME_LIGHT = 1e-6
/** The same in cd/m²: radiance that counts as nothing is not kept. */
const NO_LIGHT = 1e-7

/**
 * The spectrum beside colours that were computed from it, as in files of our own; null for one on another scale, of
 * another observer, or that is none of light.
 */
function spectrumBeside(
  fields: readonly string[],
): (row: readonly CgatsValue[], number: number, xyz: readonly number[]) => Spectrum | null {
  const spectrumOf = orNull(() => spectrumIn(fields))
  return (row, number, xyz) => {
    const spectrum = spectrumOf === null ? null : orNull(() => spectrumOf(row, number))
    if (spectrum === null) return null
    const again = lightOf(spectrum)
    const bound = SAME_LIGHT * Math.max(...xyz) + NO_LIGHT
    return again.every((value, k) => Math.abs(value - (xyz[k] as number)) <= bound) ? spectrum : null
  }
}

/** Colours that are given count whatever is wrong with the columns beside them. */
function orNull<T>(read: () => T): T | null {
  try {
    return read()
  } catch (error) {
    if (error instanceof AppError) return null
    throw error
  }
}

const plainColumn =
  (index: number, label: string) =>
  (row: readonly CgatsValue[], number: number): number =>
    numberIn(row[index] ?? '', label, number)

type LightOf = (row: readonly CgatsValue[], number: number) => readonly [number, number, number]

/** XYZ from x, y, Y; null where the fields lack one. */
function chromaticityIn(fields: readonly string[]): LightOf | null {
  const [x, y, capY] = ['xyyx', 'xyyy', 'xyycapy'].map((name) => fields.findIndex((field) => plain(field) === name))
  if (x === undefined || y === undefined || capY === undefined || Math.min(x, y, capY) < 0) return null
  return (row, number) => {
    const chromaticity = [numberIn(row[x] ?? '', 'x', number), numberIn(row[y] ?? '', 'y', number)] as const
    const luminance = numberIn(row[capY] ?? '', 'Y', number)
    return luminance === 0 ? [0, 0, 0] : xyzOf(chromaticity, luminance)
  }
}

const noColumns = (kind: RecordKindId, fields: readonly string[]): AppError =>
  new AppError(
    'import-unreadable',
    `${recordKind(kind).label}: the table has the columns ${fields.slice(0, 12).join(', ')}${fields.length > 12 ? ', …' : ''}.`,
    `Needed are ${recordKind(kind)
      .columns.map(({ id, label, unit }) => `${id} (${label}${unit === '1' ? '' : `, ${unit}`})`)
      .join(', ')}.`,
  )

function mappedRows(
  kind: RecordKindId,
  table: NamedTable,
  mapping: RecordMapping,
): Pick<RecordTable, 'rows' | 'spectra'> {
  const reader = readerOf(kind, table.fields)
  if (reader === null) throw noColumns(kind, table.fields)
  const read = table.rows.map((row, i) => reader(row, i + 1))
  const rows = read.map(({ values }) => values)
  if (kind !== 'colour-patches') return { rows, spectra: [] }
  const { rgbMax, whiteLuminance } = mapping
  const scale = whiteLuminance === null ? 1 : whiteLuminance / relativeWhite(table.fields, rows, rgbMax)
  const spectra = read.flatMap(({ spectrum }) =>
    spectrum === null ? [] : [spectrum.map(([nm, radiance]) => [nm, radiance * scale] as const)],
  )
  return {
    rows: rows.map((values) => values.map((value, k) => (k < 3 ? (value * 255) / rgbMax : value * scale))),
    spectra: spectra.length === rows.length ? spectra : [],
  }
}

/** Y of white in a table of relative colours: 100, and of spectra what their own white comes to. */
function relativeWhite(fields: readonly string[], rows: readonly (readonly number[])[], rgbMax: number): number {
  if (fields.some((field) => plain(field) === 'xyzy' || plain(field) === 'y' || plain(field) === 'xyycapy')) return 100
  const white = rows.filter(([r, g, b]) => r === rgbMax && g === rgbMax && b === rgbMax)
  const luminance = white.reduce((sum, [, , , , y = 0]) => sum + y, 0) / white.length
  if (luminance > 0) return luminance
  throw new AppError(
    'import-unreadable',
    `Relative spectra need that of white (${rgbMax}, ${rgbMax}, ${rgbMax}) among them, with light.`,
    'Add it, or give spectral radiance in W/(m²·sr·nm).',
  )
}

const COLOUR_FIELDS = ['SAMPLE_ID', 'RGB_R', 'RGB_G', 'RGB_B', 'XYZ_X', 'XYZ_Y', 'XYZ_Z'] as const

/**
 * A reading of colour patches as CGATS: RGB 0–255, XYZ absolute in cd/m², and their spectra in W/(m²·sr·nm) where each
 * patch has one and all have the same number of wavelengths.
 * @param spectra in the order of the patches, see `spectraOf`.
 */
export function cgatsOf(
  reading: Pick<Reading, 'kind' | 'series' | 'value' | 'quantity' | 'source' | 'at'>,
  spectra: readonly Spectrum[] = [],
): string {
  const plainText = (text: string): string => text.replace(/[\r\n"]/g, ' ')
  const rows = rowsOf(reading)
  const count = spectra[0]?.length ?? 0
  const whole = spectra.length === rows.length && spectra.every(({ length }) => length === count)
  const points = whole ? spectra : []
  return writeCgats({
    identifier: 'CGATS.17',
    tables: [
      {
        keywords: [
          ['ORIGINATOR', 'Slewlight'],
          [
            'DESCRIPTOR',
            plainText(
              `${reading.quantity}; RGB 0-255, XYZ in cd/m2${points.length === 0 ? '' : ', SPECTRAL_DEC in W/(m2 sr nm)'}`,
            ),
          ],
          ['CREATED', reading.at.slice(0, 10)],
          ['INSTRUMENTATION', plainText(reading.source)],
        ],
        fields: [...COLOUR_FIELDS, ...(points[0] ?? []).flatMap(() => ['SPECTRAL_NM', 'SPECTRAL_DEC'])],
        rows: rows.map((row, i) => [String(i + 1), ...row, ...(points[i] ?? []).flat()]),
      },
    ],
  })
}
