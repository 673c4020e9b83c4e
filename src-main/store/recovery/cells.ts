/**
 * Rows in leaf pages of table b-trees ("Database File Format", sqlite.org/fileformat2.html: 1.6 b-tree pages and
 * overflow, 2.1 the record format).
 */
import type { PageFile } from './page-file.ts'

export type Value = string | number | bigint | Uint8Array | null
/** A row by the names of its columns. */
export type Row = Record<string, Value>

export interface Cell {
  readonly rowid: number
  /** Serial types of the row's values. */
  readonly types: readonly number[]
}

interface Payload {
  readonly rowid: number
  readonly length: number
  readonly local: Buffer
  /** First page of what did not fit, 0 when all did. */
  readonly overflow: number
}

const TABLE_LEAF = 0x0d

/** Position and value of a variable-length integer (1.6); null where it runs out of the page. */
function varint(bytes: Buffer, at: number): { value: number; next: number } | null {
  let value = 0
  for (let i = 0; i < 9; i++) {
    const byte = bytes[at + i]
    if (byte === undefined) return null
    // Lengths and row numbers of an archive stay far under 2^53.
    if (i === 8) return { value: value * 256 + byte, next: at + 9 }
    value = value * 128 + (byte & 0x7f)
    if (byte < 0x80) return { value, next: at + i + 1 }
  }
  return null
}

function payloadAt(page: Buffer, at: number, usable: number): Payload | null {
  const length = varint(page, at)
  const rowid = length && varint(page, length.next)
  if (length === null || rowid === null || !Number.isSafeInteger(rowid.value)) return null
  const most = usable - 35
  const least = Math.floor(((usable - 12) * 32) / 255) - 23
  const rest = least + ((length.value - least) % (usable - 4))
  const here = length.value <= most ? length.value : rest <= most ? rest : least
  const spills = here < length.value
  const end = rowid.next + here + (spills ? 4 : 0)
  if (length.value < 1 || end > usable) return null
  return {
    rowid: rowid.value,
    length: length.value,
    local: page.subarray(rowid.next, rowid.next + here),
    overflow: spills ? page.readUInt32BE(rowid.next + here) : 0,
  }
}

/** Serial types of a record; null when the header makes no sense or the values would not fill the payload exactly. */
function serialTypes({ local, length }: Payload): { types: number[]; start: number } | null {
  const header = varint(local, 0)
  if (header === null || header.value > local.length) return null
  const types: number[] = []
  let content = 0
  for (let at = header.next; at < header.value;) {
    const type = varint(local, at)
    if (type === null || type.value === 10 || type.value === 11) return null
    types.push(type.value)
    content += widthOf(type.value)
    at = type.next
  }
  return header.value + content === length && types.length > 0 ? { types, start: header.value } : null
}

const WIDTHS = [0, 1, 2, 3, 4, 6, 8, 8, 0, 0] as const

function widthOf(type: number): number {
  return WIDTHS[type] ?? (type - (type % 2 === 0 ? 12 : 13)) / 2
}

/** Offsets of the cells of a leaf page of a table; empty for any other page. */
function cellOffsets(page: Buffer, pageNumber: number, usable: number): number[] {
  const start = pageNumber === 1 ? 100 : 0
  if (page[start] !== TABLE_LEAF) return []
  const count = page.readUInt16BE(start + 3)
  if (start + 8 + 2 * count > usable) return []
  return Array.from({ length: count }, (_, i) => page.readUInt16BE(start + 8 + 2 * i))
}

/** The rows of a page by place, as far as they make sense; a damaged cell costs itself. */
export function cellsOf(file: PageFile, pageNumber: number): { place: number; cell: Cell }[] {
  const page = file.page(pageNumber)
  if (page === null) return []
  const found: { place: number; cell: Cell }[] = []
  for (const [place, offset] of cellOffsets(page, pageNumber, file.usable).entries()) {
    const payload = payloadAt(page, offset, file.usable)
    const record = payload && serialTypes(payload)
    if (payload !== null && record !== null) found.push({ place, cell: { rowid: payload.rowid, types: record.types } })
  }
  return found
}

/** The values of the row at a place of a page, its overflow pages included; null when one of them is missing. */
export function valuesAt(file: PageFile, pageNumber: number, place: number): Value[] | null {
  const page = file.page(pageNumber)
  const offset = page && cellOffsets(page, pageNumber, file.usable)[place]
  const payload = page && offset !== undefined && offset !== null ? payloadAt(page, offset, file.usable) : null
  const record = payload && serialTypes(payload)
  if (payload === null || record === null) return null
  const bytes = Buffer.alloc(payload.length)
  payload.local.copy(bytes)
  let filled = payload.local.length
  const seen = new Set<number>()
  for (let next = payload.overflow; filled < bytes.length;) {
    const more = seen.has(next) ? null : file.page(next)
    if (more === null) return null
    seen.add(next)
    filled += more.copy(bytes, filled, 4, Math.min(file.usable, 4 + bytes.length - filled))
    next = more.readUInt32BE(0)
    // A chain that goes on past its end, or ends before it, was not this row's.
    if ((next === 0) !== (filled === bytes.length)) return null
  }
  let at = record.start
  return record.types.map((type) => {
    const value = valueOf(bytes, at, type)
    at += widthOf(type)
    return value
  })
}

function valueOf(bytes: Buffer, at: number, type: number): Value {
  if (type === 0) return null
  if (type === 8 || type === 9) return type - 8
  if (type === 7) return bytes.readDoubleBE(at)
  if (type === 6) {
    const value = bytes.readBigInt64BE(at)
    return BigInt(Number(value)) === value ? Number(value) : value
  }
  const width = widthOf(type)
  if (type < 6) return bytes.readIntBE(at, width)
  const content = bytes.subarray(at, at + width)
  return type % 2 === 0 ? Uint8Array.prototype.slice.call(content) : content.toString('utf8')
}
