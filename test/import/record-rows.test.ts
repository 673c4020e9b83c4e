/** Typed and delimited tables of a display's record: what would be read wrongly is refused instead. */
import { describe, expect, it } from 'vitest'
import { seriesOf, type RecordKindId } from '#shared/domain/record-kinds.ts'
import { ABSOLUTE, readRecordTable } from '#shared/import/record-rows.ts'

const series = (kind: RecordKindId, text: string): number[] =>
  seriesOf(kind, readRecordTable(kind, text, ABSOLUTE).rows)
const nine = (row: string): string => Array.from({ length: 9 }, () => row).join('\n')

describe('a table', () => {
  it.each([
    ['decimal commas in the only column', 'uniformity', nine('0,25'), /Row 1 has 2 values \(0 · 25\) where 1 is taken/],
    ['decimal commas between commas', 'luminance-ladder', '0,0,25\n255,200,5', /Row 1 has 3 values/],
    ['a value too many', 'luminance-ladder', '0 0.25 7\n255 200 9', /Row 1 has 3 values/],
    ['a value too many in a later row', 'luminance-ladder', 'code,luminance\n0,0.1\n255,200,5', /Row 2 has 3 values/],
    ['a value too few', 'luminance-ladder', '0 0.25\n255', /Row 2 has 1 value \(255\) where 2 are taken/],
    ['decimal commas between semicolons', 'luminance-ladder', '0;0,25\n255;200,5', /Luminance in row 1 is “0,25”/],
    ['units typed in', 'luminance-ladder', '0 0.25 cd/m²\n255 200 cd/m²', /where 2 are taken/],
    ['units without a blank', 'luminance-ladder', '0 0.25cd/m²\n255 200', /Luminance in row 1 is “0.25cd\/m²”/],
    ['a column twice', 'luminance-ladder', 'code,luminance,Luminance\n0,1,2', /Luminance could be any of the columns/],
    ['x beside X', 'colour-patches', 'r,g,b,x,y,X,Y,Z\n0,0,0,.3,.3,1,1,1', /X could be any of the columns x, X/],
    ['no number', 'luminance-ladder', '0 NaN\n255 200', /Luminance in row 1 is “NaN”, which is no number/],
    ['less than nothing', 'luminance-ladder', '0 -1\n255 200', /Luminance in row 1 is -1, which is not possible/],
    ['more than anything', 'luminance-ladder', '0 1e300\n255 200', /1e\+300, which is not possible/],
    ['endless rows', 'uniformity', '1\n'.repeat(1_000_000), /more than 4096 rows/],
  ] as const)('with %s is refused, with the place', (_name, kind, text, message) => {
    expect(() => series(kind, text)).toThrow(message)
  })

  it.each([
    ['0;0,25', 'Write numbers with a point, not a comma.'],
    ['0 0.25cd/m²', 'Write the number alone, without its unit or marks.'],
    ['0 NaN', 'Leave out rows without a value.'],
  ])('“%s”: what to do is said', (text, remedy) => {
    expect(() => series('luminance-ladder', text)).toThrow(expect.objectContaining({ remedy }))
  })

  it('of colours says which patches come more than once', () => {
    const warnings = (text: string): readonly string[] => readRecordTable('colour-patches', text, ABSOLUTE).warnings
    expect(warnings('255 255 255 110 120 130\n255 255 255 11 12 13\n0 0 0 1 1 1')).toEqual([
      'RGB 255, 255, 255 comes 2 times; the mean counts.',
    ])
    expect(warnings('0 0 0 1 1 1\n1 1 1 1 1 1\n0 0 0 2 2 2\n1 1 1 2 2 2')[0]).toMatch(/^2 patches come more than once/)
    expect(warnings('0 0 0 1 1 1\n255 255 255 9 9 9')).toEqual([])
  })

  it('may end its rows with its delimiter, has wavelengths for names, and other columns beside named ones', () => {
    expect(series('luminance-ladder', '0;0.25;\r\n255;200;\r\n')).toEqual([0, 0.25, 255, 200])
    expect(series('luminance-ladder', '\uFEFFremark,code,luminance\r\n"a, b",0,0.25\r\n,255,200\r\n')).toEqual([
      0, 0.25, 255, 200,
    ])
    const wavelengths = Array.from({ length: 36 }, (_, i) => 380 + 10 * i)
    const text = `${wavelengths.join(',')},r,g,b\n${wavelengths.map(() => '0.001').join(',')},255,255,255`
    expect(series('colour-patches', text).slice(0, 3)).toEqual([255, 255, 255])
  })
})
