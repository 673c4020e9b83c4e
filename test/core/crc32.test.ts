import { fc } from '../support/fast-check.ts'
import { crc32 as reference } from 'node:zlib'
import { describe, expect, it } from 'vitest'
import { crc32, crc32ByTables } from '#main/core/crc32.ts'

describe('crc32', () => {
  it('gives the published check value', () => {
    // CRC-32/ISO-HDLC of the ASCII digits 1 to 9 (from memory; zlib below agrees).
    for (const check of [crc32, crc32ByTables]) {
      expect(check(Buffer.from('123456789'))).toBe(0xcbf43926)
      expect(check(new Uint8Array(0))).toBe(0)
    }
  })

  it('agrees with zlib on any bytes where the runtime has none of its own', () => {
    fc.assert(fc.property(fc.uint8Array({ maxLength: 2000 }), (bytes) => crc32ByTables(bytes) === reference(bytes)))
  })
})
