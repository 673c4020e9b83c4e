/** Records to response data: ASCii, INTeger,16 and REAL,32, in either byte order, as definite-length blocks. */
import type { DataRecord } from './acquisition.ts'
import { formatReal } from './parameters.ts'

export type DataFormat = 'ASC' | 'INT,16' | 'REAL,32'

/** Definite-length block of IEEE 488.2 8.7.9 around its bytes; `announced` differs from their number in a fault only. */
export function definiteBlock(bytes: Uint8Array, announced = bytes.length): Uint8Array {
  const length = String(announced)
  const header = `#${length.length}${length}`
  const block = new Uint8Array(header.length + bytes.length)
  for (let i = 0; i < header.length; i++) block[i] = header.charCodeAt(i)
  block.set(bytes, header.length)
  return block
}

export function asciiData(record: DataRecord): string {
  const scale = record.settings.rangeV / 32_768
  return Array.from(record.codes, (code) => formatReal(code * scale)).join(',')
}

/** The bytes inside the block. `swapped`: least significant byte first. */
export function binaryData(record: DataRecord, format: 'INT,16' | 'REAL,32', swapped: boolean): Uint8Array {
  const { codes } = record
  const width = format === 'INT,16' ? 2 : 4
  const bytes = new Uint8Array(codes.length * width)
  const view = new DataView(bytes.buffer)
  if (width === 2) for (let i = 0; i < codes.length; i++) view.setInt16(2 * i, codes[i] as number, swapped)
  else {
    const scale = record.settings.rangeV / 32_768
    for (let i = 0; i < codes.length; i++) view.setFloat32(4 * i, (codes[i] as number) * scale, swapped)
  }
  return bytes
}

const CRC_TABLE = Uint32Array.from({ length: 256 }, (_, n) => {
  let c = n
  for (let k = 0; k < 8; k++) c = (c & 1) === 1 ? 0xedb88320 ^ (c >>> 1) : c >>> 1
  return c >>> 0
})

/** CRC-32 (ISO 3309, the one of zip and Ethernet); an own copy, so that a fault in the host's does not cancel out. */
export function crc32(bytes: Uint8Array): number {
  let crc = 0xffffffff
  for (let i = 0; i < bytes.length; i++) crc = (CRC_TABLE[(crc ^ (bytes[i] as number)) & 0xff] as number) ^ (crc >>> 8)
  return (crc ^ 0xffffffff) >>> 0
}
