import { fc } from '../support/fast-check.ts'
import { describe, expect, it } from 'vitest'
import { configureCommands, NEEDED_HEADERS } from '#main/rig/protocol/commands.ts'
import { crc32 } from '#main/core/crc32.ts'
import { hasHeader, parseHeaderList } from '#main/rig/protocol/headers.ts'
import { parseIdentity } from '#main/rig/protocol/identity.ts'
import { errorClass, parseInstrumentError } from '#main/rig/protocol/instrument-error.ts'
import { formatNumber, parseInteger, parseNumber } from '#main/rig/protocol/numbers.ts'
import { countMissing, decodeInt16, decodeReal32 } from '#main/rig/protocol/samples.ts'
import { transferSeconds } from '#main/rig/protocol/timeouts.ts'
import { FAKE_HEADERS } from './support/fake-instrument.ts'

describe('numbers', () => {
  it('reads NR1, NR2 and NR3', () => {
    expect(['5', '+5.0', '-.5', '5.', '1.5E-05', '2e+3'].map(parseNumber)).toEqual([5, 5, -0.5, 5, 1.5e-5, 2000])
  })
  it('reads the stand-ins of SCPI-1999 Volume 1, 7.2.1', () => {
    expect(parseNumber('9.91E37')).toBeNaN()
    expect(parseNumber('+9.910000E+37')).toBeNaN()
    expect(parseNumber('9.9E37')).toBe(Infinity)
    expect(parseNumber('-9.9e37')).toBe(-Infinity)
    expect(['NAN', 'INFinity', 'NINF'].map(parseNumber)).toEqual([NaN, Infinity, -Infinity])
  })
  it('refuses what is no number', () => {
    expect(['', 'abc', '1,2', '0x10', '1e', '--1', 'Infinity1', '1 V'].map(parseNumber)).toEqual(Array(8).fill(null))
  })
  it('reads integers in all four bases', () => {
    expect(['42', '#H2a', '#Q52', '#B101010', '4.2E1'].map(parseInteger)).toEqual([42, 42, 42, 42, 42])
    expect(['4.2', '#Hxy', '1E30'].map(parseInteger)).toEqual([null, null, null])
  })
  it('writes every finite number so that it reads back the same', () => {
    fc.assert(
      fc.property(fc.double({ noNaN: true, noDefaultInfinity: true, min: -1e36, max: 1e36 }), (value) => {
        expect(parseNumber(formatNumber(value))).toBe(value === 0 ? parseNumber(formatNumber(value)) : value)
      }),
    )
    expect(() => formatNumber(NaN)).toThrow(RangeError)
  })
})

describe('answers', () => {
  it('reads entries of the error queue', () => {
    expect(parseInstrumentError('0,"No error"')).toEqual({ code: 0, text: 'No error' })
    expect(parseInstrumentError('-350,"Queue overflow"')).toEqual({ code: -350, text: 'Queue overflow' })
    expect(parseInstrumentError('+0,"No error"')).toEqual({ code: 0, text: 'No error' })
    expect(parseInstrumentError('-222,"Data out of range;RANG ""9"" V"')?.text).toBe('Data out of range;RANG "9" V')
    for (const wrong of ['', '0', '0,No error', '-350,"Queue', '1e3,"x"', '99999,"x"'])
      expect(parseInstrumentError(wrong)).toBeNull()
  })
  it('knows the class of an error by its number', () => {
    expect([0, -113, -222, -350, -410, -800, 12].map(errorClass)).toEqual([
      'none',
      'command',
      'execution',
      'device',
      'query',
      'event',
      'device',
    ])
  })
  it('reads the four fields of *IDN?', () => {
    expect(parseIdentity('Example, Recorder 1 ,0,1.0')).toEqual({
      manufacturer: 'Example',
      model: 'Recorder 1',
      serial: '0',
      firmware: '1.0',
    })
    for (const wrong of ['', 'OK', 'a,b,c', 'a,b,c,d,e', ',,,']) expect(parseIdentity(wrong)).toBeNull()
  })
})

describe('header lists', () => {
  it('drops attributes and marks query-only headers', () => {
    expect(parseHeaderList(':ABORt/nquery/\r\n*IDN?/qonly/\n\n:FETCh/qonly/\n:FORMat[:DATA]\n')).toEqual([
      ':ABORt',
      '*IDN?',
      ':FETCh?',
      ':FORMat[:DATA]',
    ])
  })
  it('finds every needed header in a full list, however it is spelt', () => {
    const full = parseHeaderList(FAKE_HEADERS.join('\n'))
    const long = full.map((header) => header.replace(/[[\]]/g, '').toUpperCase())
    const short = full.map((header) => header.replace(/\[[^\]]*\]/g, '').replace(/[a-z]/g, ''))
    for (const list of [full, long, short])
      for (const header of NEEDED_HEADERS) expect([header, hasHeader(list, header)]).toEqual([header, true])
  })
  it('does not find one that is missing', () => {
    for (const missing of NEEDED_HEADERS) {
      const others = NEEDED_HEADERS.filter((header) => header !== missing)
      expect([missing, hasHeader(others, missing)]).toEqual([missing, false])
    }
  })
  it('meets optional nodes on either side wherever they stand', () => {
    expect(hasHeader(['[A:][B:]C[:D]'], 'A:C')).toBe(true)
    expect(hasHeader(['[A:][B:]C[:D]'], 'B:C:D')).toBe(true)
    expect(hasHeader(['[A:][B:]C[:D]'], 'B:A:C')).toBe(false)
    expect(hasHeader(['[A:][B:]C[:D]'], 'A:B')).toBe(false)
    expect(hasHeader(['C'], '[A:][B:]C[:D]')).toBe(true)
    expect(hasHeader(['[A:]C'], '[B:]C')).toBe(true)
    expect(hasHeader(['[A]'], 'B')).toBe(false)
  })
  it('meets optional nodes in time by their number, not by how they can be combined', () => {
    // Each way through 12 by 12 optional nodes on its own would be some 250 million.
    const nodes = (end: string): string => `${'[A:]'.repeat(12)}${end}`
    const begun = process.threadCpuUsage()
    expect(hasHeader([nodes('X')], nodes('Y'))).toBe(false)
    expect(process.threadCpuUsage(begun).user / 1000).toBeLessThan(250)
  })
  it('leaves out what is too long for a header', () => {
    expect(parseHeaderList(`${'[A]'.repeat(21_000)}\n*IDN?\n`)).toEqual(['*IDN?'])
  })
  it('tells queries from settings and suffixes from names', () => {
    expect(hasHeader(['FORMat:DATA?'], 'FORMat[:DATA]')).toBe(false)
    expect(hasHeader(['FORMat:DATA'], 'FORMat[:DATA]')).toBe(true)
    expect(hasHeader(['TRIGger1:LEVel'], 'TRIGger[:SEQuence]:LEVel')).toBe(true)
    expect(hasHeader(['TRIGger:LEVer'], 'TRIGger[:SEQuence]:LEVel')).toBe(false)
    expect(hasHeader(['DIAGnostic:DATA:CRC?'], 'DIAGnostic:DATA:CRC?')).toBe(true)
  })
})

describe('samples', () => {
  it('decodes 16-bit codes in either order, also from an odd address', () => {
    const store = Uint8Array.from([99, 0x80, 0x00, 0x7f, 0xff, 0x00, 0x01])
    expect(decodeInt16(store.subarray(1), 'normal')).toEqual(Int16Array.from([-32768, 32767, 1]))
    expect(decodeInt16(store.subarray(1), 'swapped')).toEqual(Int16Array.from([0x0080, -129, 0x0100]))
    expect(() => decodeInt16(store, 'normal')).toThrow(RangeError)
  })
  it('decodes reals in either order and counts those that are none', () => {
    const block = new Uint8Array(16)
    const view = new DataView(block.buffer)
    ;[1.5, 9.91e37, -9.9e37, NaN].forEach((value, i) => view.setFloat32(4 * i, value, false))
    const samples = decodeReal32(block, 'normal')
    expect([...samples]).toEqual([1.5, NaN, -Infinity, NaN])
    expect(countMissing(samples)).toBe(3)
    expect(decodeReal32(Uint8Array.from([0, 0, 0xc0, 0x3f]), 'swapped')[0]).toBe(1.5)
  })
  // The check value every description of this polynomial gives.
  it('computes CRC-32', () => {
    expect(crc32(Buffer.from('123456789'))).toBe(0xcbf43926)
    expect(crc32(new Uint8Array(0))).toBe(0)
  })
})

describe('commands', () => {
  it('spells a level-triggered record', () => {
    expect(
      configureCommands({
        rangeV: 5,
        sampleRateHz: 100_000,
        points: 50_000,
        preTriggerPoints: 5000,
        trigger: { source: 'level', levelV: 0.5, slope: 'falling' },
        transfer: 'real32',
        byteOrder: 'normal',
        continuousOff: true,
      }),
    ).toEqual([
      'ABOR',
      '*CLS',
      'INIT:CONT OFF',
      'SENS:VOLT:RANG:UPP 5',
      'SENS:SWE:TINT 0.00001',
      'SENS:SWE:POIN 50000',
      'SENS:SWE:OFFS:POIN -5000',
      'TRIG:SOUR INT',
      'TRIG:LEV 0.5',
      'TRIG:SLOP NEG',
      'FORM:DATA REAL,32',
      'FORM:BORD NORM',
    ])
  })
  // metrology.md §8: 115200 8N1 carries 11520 bytes/s; 50,000 points are 8.7 s as INT,16 and 17.4 s as REAL,32.
  it('computes transfer times', () => {
    expect(transferSeconds(100_000, 11_520)).toBeCloseTo(8.68, 2)
    expect(transferSeconds(200_000, 11_520)).toBeCloseTo(17.36, 2)
  })
})
