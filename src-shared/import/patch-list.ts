/** The patches a file wants shown, in its order: RGB columns of CGATS text, or three columns of a delimited table. */
import { AppError } from '#shared/domain/errors.ts'
import { MAX_PATCHES, type Rgb } from '#shared/domain/guided.ts'
import { readCgats, type CgatsValue } from './cgats.ts'
import { cellsOfLine, walkLines } from './table.ts'

const FIELDS = ['RGB_R', 'RGB_G', 'RGB_B'] as const
const NAMES = [
  ['rgb_r', 'r', 'red'],
  ['rgb_g', 'g', 'green'],
  ['rgb_b', 'b', 'blue'],
] as const

/** @param rgbMax largest value of the file, which no file says. @throws AppError `import-unreadable` naming the row. */
export function readPatchList(text: string, rgbMax: 1 | 100 | 255): Rgb[] {
  const start = text.replace(/^\uFEFF/, '')
  const rows = /\bBEGIN_DATA_FORMAT\b/.test(start.slice(0, 20_000)) ? fromCgats(start) : fromTable(start)
  if (rows.length === 0) throw new AppError('import-unreadable', 'There are no patches.', 'One row a patch: R, G, B.')
  if (rows.length > MAX_PATCHES)
    throw new AppError(
      'import-unreadable',
      `${rows.length} patches are too many for one sequence, which holds ${MAX_PATCHES}.`,
      'Split the list.',
    )
  return rows.map((row, i) => row.map((cell) => codeOf(cell, rgbMax, i + 1)) as unknown as Rgb)
}

function fromCgats(text: string): CgatsValue[][] {
  return readCgats(text).tables.flatMap(({ fields, rows }) => {
    const at = FIELDS.map((name) => fields.findIndex((field) => field.toUpperCase() === name))
    return at.some((index) => index < 0) ? [] : rows.map((row) => at.map((index) => row[index] ?? ''))
  })
}

function fromTable(text: string): CgatsValue[][] {
  const lines = walkLines(text)
  const filled: string[] = []
  for (let line = lines.next(); line !== null; line = lines.next())
    if (line.trim() !== '' && !line.trim().startsWith('#')) filled.push(line.trim())
  const [first] = filled
  if (first === undefined) return []
  const delimiter = (['\t', ';', ','] as const).find((one) => first.includes(one)) ?? ' '
  const cells = filled.map((line) => cellsOfLine(line, delimiter))
  const head = (cells[0] as string[]).map((cell) => cell.trim().toLowerCase())
  const named = NAMES.map((names) => head.findIndex((cell) => names.some((name) => name === cell)))
  if (named.every((index) => index >= 0)) return cells.slice(1).map((row) => named.map((index) => row[index] ?? ''))
  if (head.length === 3) return cells
  throw new AppError(
    'import-unreadable',
    `The table has the columns ${head.slice(0, 12).join(', ')}.`,
    'Needed are r, g and b, or three columns without names.',
  )
}

function codeOf(cell: CgatsValue, rgbMax: number, row: number): number {
  const value = typeof cell === 'number' ? cell : cell.trim() === '' ? Number.NaN : Number(cell)
  const code = Math.round((value * 255) / rgbMax)
  if (code >= 0 && code <= 255) return code
  throw new AppError(
    'import-unreadable',
    `Row ${row} has ${cell === '' ? 'nothing' : `“${String(cell).slice(0, 40)}”`} where a value from 0 to ${rgbMax} is needed.`,
    'Check the scale of the RGB values.',
  )
}
