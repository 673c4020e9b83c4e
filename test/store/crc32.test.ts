import fc from 'fast-check'
import { crc32 as reference } from 'node:zlib'
import { describe, expect, it } from 'vitest'
import { crc32 } from '../../src-main/store/crc32.ts'

describe('crc32', () => {
  it('gives the published check value', () => {
    // CRC-32/ISO-HDLC of the ASCII digits 1 to 9 (from memory; zlib below agrees).
    expect(crc32(Buffer.from('123456789'))).toBe(0xcbf43926)
    expect(crc32(new Uint8Array(0))).toBe(0)
  })

  it('agrees with zlib on any bytes', () => {
    fc.assert(fc.property(fc.uint8Array({ maxLength: 2000 }), (bytes) => crc32(bytes) === reference(bytes)))
  })
})
