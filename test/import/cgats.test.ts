/** CGATS text: what is read, what is refused, and that writing loses nothing. */
import { describe, expect, it } from 'vitest'
import { fc } from '../support/fast-check.ts'
import { readCgats, writeCgats } from '#shared/import/cgats.ts'
import { fuzzTables } from '../fuzz/tables.ts'

const GREYS = [
  'CGATS.17',
  'ORIGINATOR "invented"',
  'DESCRIPTOR "grey scale, XYZ in cd/m2"',
  'CREATED "2026-11-29"',
  'NUMBER_OF_FIELDS 7',
  'BEGIN_DATA_FORMAT',
  'SAMPLE_ID RGB_R RGB_G RGB_B XYZ_X XYZ_Y XYZ_Z',
  'END_DATA_FORMAT',
  'NUMBER_OF_SETS 2',
  'BEGIN_DATA',
  '1 255 255 255 114.05 120.00 130.69',
  '2 128 128 128 24.62 25.90 28.21',
  'END_DATA',
]

describe('CGATS', () => {
  it.each([
    ['LF', '\n'],
    ['CRLF', '\r\n'],
    ['CR', '\r'],
  ])('is read with %s line ends and a byte order mark', (_name, end) => {
    const { identifier, tables, warnings } = readCgats(`\uFEFF${GREYS.join(end)}${end}`)
    expect({ identifier, warnings }).toEqual({ identifier: 'CGATS.17', warnings: [] })
    expect(tables).toHaveLength(1)
    expect(tables[0]?.fields).toHaveLength(7)
    expect(tables[0]?.rows[1]).toEqual(['2', 128, 128, 128, 24.62, 25.9, 28.21])
    expect(tables[0]?.keywords[0]).toEqual(['ORIGINATOR', 'invented'])
  })

  it('keeps private keywords, comments out, quoted marks in, and exponents', () => {
    const { tables } = readCgats(`CGATS.17
KEYWORD "SLEW_PATTERN"
SLEW_PATTERN "10 % window # not a comment" # private key
BEGIN_DATA_FORMAT
SAMPLE_ID SAMPLE_NAME LAB_L LAB_A LAB_B
END_DATA_FORMAT
BEGIN_DATA
1 "deep red" 53.2 8.01E+1 67.2
END_DATA
`)
    expect(tables[0]?.keywords).toContainEqual(['SLEW_PATTERN', '10 % window # not a comment'])
    expect(tables[0]?.rows).toEqual([['1', 'deep red', 53.2, 80.1, 67.2]])
  })

  it('reads two tables, a format over two lines, and names of wavelengths', () => {
    const { tables } = readCgats(`CGATS.17
BEGIN_DATA_FORMAT
SAMPLE_ID XYY_X XYY_Y XYY_CAPY
END_DATA_FORMAT
BEGIN_DATA
W .3127 .3290 120
END_DATA
CGATS.17
BEGIN_DATA_FORMAT
SAMPLE_ID SPECTRAL_400
SPECTRAL_410
END_DATA_FORMAT
BEGIN_DATA
W 0.1 0.2
END_DATA
`)
    expect(tables.map(({ fields }) => fields)).toEqual([
      ['SAMPLE_ID', 'XYY_X', 'XYY_Y', 'XYY_CAPY'],
      ['SAMPLE_ID', 'SPECTRAL_400', 'SPECTRAL_410'],
    ])
  })

  const table = (row: string, fields = 'SAMPLE_ID RGB_R'): string =>
    `CGATS.17\nBEGIN_DATA_FORMAT\n${fields}\nEND_DATA_FORMAT\nBEGIN_DATA\n${row}\nEND_DATA\n`

  it.each([
    ['an include', `CGATS.17\n.INCLUDE "other.txt"\n`, /another file is to be included/],
    ['a value too many', table('1 2 3'), /Line 6: 3 values where the format has 2 fields/],
    ['a value too few', table('1'), /the last row has 1 of 2 values/],
    ['a missing value in the middle', table('1\n2 3'), /3 values where the format has 2 fields/],
    ['a field twice', table('1 2', 'RGB_R RGB_R'), /RGB_R comes twice/],
    ['an open quotation mark', table('1 "2'), /never closed/],
    ['an endless number', table('1 1e999'), /too large for a number/],
    ['no end', 'CGATS.17\nBEGIN_DATA_FORMAT\nA\nEND_DATA_FORMAT\nBEGIN_DATA\n1', /ends before END_DATA/],
    ['zero bytes', 'CGATS.17\n\0', /no text/],
    ['a long word', table(`1 ${'9'.repeat(2000)}`), /longer than 1024/],
    ['nothing', '', /first line/],
    ['no table', 'CGATS.17\nORIGINATOR "x"\n', /no table/],
  ])('refuses %s', (_name, text, message) => {
    expect(() => readCgats(text)).toThrow(message)
  })

  it('leaves what looks like a number but is none as text', () => {
    for (const word of ['0x10', '0b1', '114,05', 'NaN', 'Infinity', '1e', '--1', '1.2.3'])
      expect(readCgats(table(`1 ${word}`)).tables[0]?.rows[0]?.[1]).toBe(word)
  })

  it('says where counts are wrong, and counts itself', () => {
    const wrong = GREYS.join('\n').replace('SETS 2', 'SETS 20').replace('FIELDS 7', 'FIELDS 6')
    expect(readCgats(wrong).warnings).toHaveLength(2)
    expect(readCgats(wrong).tables[0]?.rows).toHaveLength(2)
  })

  it('is written and read back unchanged', () => {
    const word = fc
      .stringMatching(/^[A-Za-z][A-Za-z0-9_]{0,12}$/)
      .filter((text) => !/^(BEGIN|END|NUMBER_OF|KEYWORD|CGATS|IT8)/i.test(text))
    const text = fc
      .string({ maxLength: 30 })
      .filter((one) => !/[\r\n\0]/.test(one) && !(one.includes('"') && one.includes("'")))
    const value = fc.oneof(fc.double({ noNaN: true, noDefaultInfinity: true }), text)
    const tables = fc
      .uniqueArray(word, { minLength: 1, maxLength: 6, selector: (one) => one.toUpperCase() })
      .chain((names) => {
        const fields = names.map((name) => `F${name}`)
        return fc.record({
          keywords: fc.array(
            fc.tuple(
              word.map((name) => `K${name}`),
              fc.option(value),
            ),
            { maxLength: 4 },
          ),
          fields: fc.constant(fields),
          rows: fc.array(fc.array(value, { minLength: fields.length, maxLength: fields.length }), { maxLength: 5 }),
        })
      })
    fc.assert(
      fc.property(fc.array(tables, { minLength: 1, maxLength: 3 }), (made) => {
        const document = { identifier: 'CGATS.17', tables: made }
        const read = readCgats(writeCgats(document))
        expect(read.tables).toEqual(made)
        expect(read.warnings).toEqual([])
        expect(writeCgats(read)).toBe(writeCgats(document))
      }),
      { numRuns: 400, seed: 7 },
    )
  })

  it('answers any text with a table or a clear refusal', () => {
    const { refused, accepted } = fuzzTables(4000, 1)
    expect(refused + accepted).toBe(4000)
    // Both happen: otherwise the texts would say nothing.
    expect(Math.min(refused, accepted)).toBeGreaterThan(200)
  })
})
