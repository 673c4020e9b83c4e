/** CRC-32 of ISO 3309 / IEEE 802.3 (reflected polynomial 0xEDB88320). */
import { crc32 as runtimeCrc32 } from 'node:zlib'

const at = (table: Uint32Array, i: number): number => table[i] ?? 0

const TABLES = makeTables()

function makeTables(): readonly [Uint32Array, Uint32Array, Uint32Array, Uint32Array] {
  const t0 = new Uint32Array(256)
  const t1 = new Uint32Array(256)
  const t2 = new Uint32Array(256)
  const t3 = new Uint32Array(256)
  for (let n = 0; n < 256; n++) {
    let c = n
    for (let k = 0; k < 8; k++) c = c & 1 ? 0xedb88320 ^ (c >>> 1) : c >>> 1
    t0[n] = c
  }
  for (let n = 0; n < 256; n++) {
    t1[n] = (at(t0, n) >>> 8) ^ at(t0, at(t0, n) & 0xff)
    t2[n] = (at(t1, n) >>> 8) ^ at(t0, at(t1, n) & 0xff)
    t3[n] = (at(t2, n) >>> 8) ^ at(t0, at(t2, n) & 0xff)
  }
  return [t0, t1, t2, t3]
}

/** Four bytes a step by four tables. */
export function crc32ByTables(bytes: Uint8Array): number {
  const [t0, t1, t2, t3] = TABLES
  let crc = 0xffffffff
  const whole = bytes.length - (bytes.length % 4)
  for (let i = 0; i < whole; i += 4) {
    crc ^=
      (bytes[i] as number) |
      ((bytes[i + 1] as number) << 8) |
      ((bytes[i + 2] as number) << 16) |
      ((bytes[i + 3] as number) << 24)
    crc =
      (t3[crc & 0xff] as number) ^
      (t2[(crc >>> 8) & 0xff] as number) ^
      (t1[(crc >>> 16) & 0xff] as number) ^
      (t0[crc >>> 24] as number)
  }
  for (let i = whole; i < bytes.length; i++) crc = (crc >>> 8) ^ (t0[(crc ^ (bytes[i] as number)) & 0xff] as number)
  return ~crc >>> 0
}

/** Check value of two pieces one after the other. */
export const crc32Of = (first: Uint8Array, second: Uint8Array | null): number =>
  crc32(second === null ? first : Buffer.concat([first, second]))

/** Check value as an unsigned 32-bit number. Runtimes from Node 20.15 bring one that is many times faster. */
export const crc32: (bytes: Uint8Array) => number = runtimeCrc32 ?? crc32ByTables
