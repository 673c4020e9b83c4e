/**
 * An SQLite file page by page, without SQLite: for files it can no longer open. Follows "Database File Format"
 * (sqlite.org/fileformat2.html): 1.3 the header, 1.5 the freelist, 4.1–4.5 the write-ahead log.
 */
import { closeSync, existsSync, fstatSync, openSync, readSync } from 'node:fs'

const CHUNK_BYTES = 256 * 1024
const WAL_HEADER_BYTES = 32
const FRAME_HEADER_BYTES = 24
const MAGIC = 'SQLite format 3\0'

export interface PageFile {
  readonly pageSize: number
  /** Bytes of a page that hold content; the rest is reserved. */
  readonly usable: number
  readonly pageCount: number
  /** `user_version` of the header; 0 where the header is lost. */
  readonly userVersion: number
  /** The newest version of a page, from 1; null past the end. The bytes are valid until the next call. */
  page(number: number): Buffer | null
  /** Pages that are on the freelist as far as it can be followed: their content is out of date. */
  readonly free: ReadonlySet<number>
  close(): void
}

/** @param usualPageSize where the header does not tell. */
export function openPageFile(path: string, usualPageSize: number): PageFile {
  const file = openSync(path, 'r')
  const size = fstatSync(file).size
  const header = Buffer.alloc(100)
  readSync(file, header, 0, 100, 0)
  const hasHeader = header.toString('latin1', 0, 16) === MAGIC
  const stated = header.readUInt16BE(16) === 1 ? 65_536 : header.readUInt16BE(16)
  const pageSize = hasHeader && stated >= 512 && (stated & (stated - 1)) === 0 ? stated : usualPageSize
  const log = openLog(`${path}-wal`, pageSize)
  const pageCount = Math.max(Math.floor(size / pageSize), log?.pageCount ?? 0)

  const chunk = Buffer.alloc(Math.max(CHUNK_BYTES, pageSize))
  let chunkStart = -1
  const inFile = (offset: number): Buffer | null => {
    if (offset + pageSize > size) return null
    const start = Math.floor(offset / chunk.length) * chunk.length
    if (start !== chunkStart) {
      readSync(file, chunk, 0, chunk.length, start)
      chunkStart = start
    }
    return chunk.subarray(offset - start, offset - start + pageSize)
  }
  const page = (number: number): Buffer | null => {
    if (!Number.isInteger(number) || number < 1 || number > pageCount) return null
    return log?.page(number) ?? inFile((number - 1) * pageSize)
  }

  const first = page(1)
  const readable = first !== null && first.toString('latin1', 0, 16) === MAGIC
  const reserved = readable ? (first[20] ?? 0) : 0
  return {
    pageSize,
    usable: pageSize - (reserved <= pageSize - 480 ? reserved : 0),
    pageCount,
    userVersion: readable ? first.readUInt32BE(60) : 0,
    page,
    free: readable ? freePages(page, first.readUInt32BE(32), pageCount) : new Set(),
    close: () => {
      closeSync(file)
      log?.close()
    },
  }
}

/** Trunk pages are a chain; each lists leaves (1.5). A trunk that makes no sense ends it. */
function freePages(page: PageFile['page'], firstTrunk: number, pageCount: number): Set<number> {
  const free = new Set<number>()
  for (let trunk = firstTrunk; trunk >= 2 && trunk <= pageCount && !free.has(trunk);) {
    const bytes = page(trunk)
    if (bytes === null) break
    const count = bytes.readUInt32BE(4)
    if (count > bytes.length / 4 - 2) break
    free.add(trunk)
    for (let i = 0; i < count; i++) free.add(bytes.readUInt32BE(8 + 4 * i))
    trunk = bytes.readUInt32BE(0)
  }
  return free
}

interface WriteAheadLog {
  readonly pageCount: number
  page(number: number): Buffer | null
  close(): void
}

/** Frames up to the last one that ends a transaction, as far as their checksums hold; null when there is no such log. */
function openLog(path: string, pageSize: number): WriteAheadLog | null {
  if (!existsSync(path)) return null
  const file = openSync(path, 'r')
  const header = Buffer.alloc(WAL_HEADER_BYTES)
  const found = readSync(file, header, 0, WAL_HEADER_BYTES, 0)
  const magic = header.readUInt32BE(0)
  if (found < WAL_HEADER_BYTES || (magic & ~1) >>> 0 !== 0x377f0682 || header.readUInt32BE(8) !== pageSize) {
    closeSync(file)
    return null
  }
  const bigEndian = (magic & 1) === 1
  let sums: readonly [number, number] = checksum([0, 0], header, 24, bigEndian)
  const places = new Map<number, number>()
  let pageCount = 0
  if (sums[0] === header.readUInt32BE(24) && sums[1] === header.readUInt32BE(28)) {
    const frame = Buffer.alloc(FRAME_HEADER_BYTES + pageSize)
    let unfinished: [number, number][] = []
    for (let at = WAL_HEADER_BYTES; readSync(file, frame, 0, frame.length, at) === frame.length; at += frame.length) {
      if (frame.compare(header, 16, 24, 8, 16) !== 0) break
      sums = checksum(sums, frame, 8, bigEndian)
      sums = checksum(sums, frame.subarray(FRAME_HEADER_BYTES), pageSize, bigEndian)
      if (sums[0] !== frame.readUInt32BE(16) || sums[1] !== frame.readUInt32BE(20)) break
      unfinished.push([frame.readUInt32BE(0), at + FRAME_HEADER_BYTES])
      const pagesAfter = frame.readUInt32BE(4)
      if (pagesAfter === 0) continue
      for (const [number, offset] of unfinished) places.set(number, offset)
      unfinished = []
      pageCount = pagesAfter
    }
  }
  const bytes = Buffer.alloc(pageSize)
  return {
    pageCount,
    page: (number) => {
      const offset = places.get(number)
      if (offset === undefined) return null
      readSync(file, bytes, 0, pageSize, offset)
      return bytes
    },
    close: () => closeSync(file),
  }
}

/** 4.2: the running sums over pairs of 32-bit words. */
function checksum(
  before: readonly [number, number],
  bytes: Buffer,
  length: number,
  bigEndian: boolean,
): readonly [number, number] {
  let [a, b] = before
  for (let i = 0; i < length; i += 8) {
    const x = bigEndian ? bytes.readUInt32BE(i) : bytes.readUInt32LE(i)
    const y = bigEndian ? bytes.readUInt32BE(i + 4) : bytes.readUInt32LE(i + 4)
    a = (a + x + b) >>> 0
    b = (b + y + a) >>> 0
  }
  return [a, b]
}
