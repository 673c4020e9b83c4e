/** Spectral readings: the forms they come in, their light, and what is refused. */
import { describe, expect, it } from 'vitest'
import { readCgats, writeCgats } from '#shared/import/cgats.ts'
import { newReadingSchema, type NewReading, type Reading } from '#shared/domain/reading.ts'
import { rowsOf, seriesOf } from '#shared/domain/record-kinds.ts'
import { spectraOf, spectraReadings } from '#shared/import/spectra-readings.ts'
import { ABSOLUTE, cgatsOf, readRecordTable } from '#shared/import/record-rows.ts'
import { ILLUMINANT_D65, WAVELENGTHS } from '../check-values/illuminants.ts'

/** D65 of about 100 cd/m²: 683 Σ ȳ S dλ of the standard's relative spectrum is 683 × 10,567.6 (its Y sum at 1 nm). */
const radiance = ILLUMINANT_D65.map((value) => value * 1.386e-5)
const head = 'RGB_R RGB_G RGB_B'
const cgats = (fields: string, row: string): string =>
  `CGATS.17\nORIGINATOR "invented"\nBEGIN_DATA_FORMAT\n${head} ${fields}\nEND_DATA_FORMAT\nBEGIN_DATA\n255 255 255 ${row}\nEND_DATA\n`
const named = cgats(WAVELENGTHS.map((nm) => `SPECTRAL_${nm}`).join(' '), radiance.join(' '))
const pairs = cgats(
  WAVELENGTHS.map(() => 'SPECTRAL_NM SPECTRAL_DEC').join(' '),
  WAVELENGTHS.map((nm, i) => `${nm} ${radiance[i] ?? 0}`).join(' '),
)
const csv = `r;g;b;${WAVELENGTHS.map((nm) => `${nm} nm`).join(';')}\n255;255;255;${radiance.join(';')}\n`
const rowOf = (text: string, mapping = ABSOLUTE): readonly number[] =>
  readRecordTable('colour-patches', text, mapping).rows[0] ?? []

describe('spectra', () => {
  it('come as columns or pairs of CGATS or as CSV, and make the same light of the standard’s chromaticity', () => {
    const [, , , x = 0, y = 0, z = 0] = rowOf(named)
    // CIE 15: D65 has x = 0.31272, y = 0.32903.
    expect(x / (x + y + z)).toBeCloseTo(0.31272, 4)
    expect(y / (x + y + z)).toBeCloseTo(0.32903, 4)
    expect(y).toBeGreaterThan(99)
    expect(y).toBeLessThan(101)
    expect(rowOf(pairs)).toEqual(rowOf(named))
    expect(rowOf(csv)).toEqual(rowOf(named))
  })

  it('are kept beside their colours, point by point, split where they outgrow one reading', () => {
    const many = `r,g,b,${WAVELENGTHS.join(',')}\n${Array.from({ length: 30 }, (_, i) => `${i},0,0,${radiance.map((value) => value * i).join(',')}`).join('\n')}`
    const { rows, spectra } = readRecordTable('colour-patches', many, ABSOLUTE)
    const colours = newReadingSchema.parse({
      campaignId: 3,
      kind: 'colour-patches',
      quantity: 'As delivered',
      unit: 'cd/m²',
      series: seriesOf('colour-patches', rows),
      u: 0.1,
      source: 'Invented spectrometer',
      at: '2030-01-01T00:00:00Z',
    })
    const kept = spectraReadings(colours, spectra)
    expect(kept.length).toBeGreaterThan(1)
    expect(kept[0]).toMatchObject({
      campaignId: 3,
      kind: 'colour-spectra',
      quantity: `As delivered, part 1 of ${kept.length}`,
      unit: 'W/(m²·sr·nm)',
      u: null,
      source: 'Invented spectrometer',
    })
    const points = kept.flatMap((reading) => rowsOf({ ...reading, value: null }))
    expect(points).toHaveLength(30 * WAVELENGTHS.length)
    const third = points.filter(([patch]) => patch === 3)
    expect(third.map(([, nm]) => nm)).toEqual(WAVELENGTHS)
    expect(third.map(([, , value]) => value)).toEqual(radiance.map((value) => value * 2))
    // The colours can be made again from what is kept.
    const again = `r,g,b,${third.map(([, nm]) => nm).join(',')}\n2,0,0,${third.map(([, , value]) => value).join(',')}`
    expect(rowOf(again)).toEqual(rows[2])
    expect(() =>
      spectraReadings(
        colours,
        Array.from({ length: 2000 }, () => spectra[1] ?? []),
      ),
    ).toThrow(/too many/)
    expect(spectraReadings(colours, [])).toEqual([])
  })

  it('are not kept where the table gives the colours itself: they may stand on another scale', () => {
    const beside = (fields: string, values: string): string =>
      `r;g;b;${fields};${WAVELENGTHS.map((nm) => `${nm} nm`).join(';')}\n255;255;255;${values};${radiance.join(';')}\n`
    for (const text of [
      beside('xyz_x;xyz_y;xyz_z', '95.047;100;108.883'),
      beside('xyy_x;xyy_y;xyy_capy', '0.3127;0.329;100'),
    ])
      expect(readRecordTable('colour-patches', text, { rgbMax: 255, whiteLuminance: 120 })).toMatchObject({
        rows: [[255, 255, 255, expect.any(Number), expect.closeTo(120, 9), expect.any(Number)]],
        spectra: [],
      })
  })

  it('go out with their colours as CGATS and come back number for number', () => {
    const table = `r;g;b;${WAVELENGTHS.join(';')}\n${[1, 0.2, 1e-9].map((level, i) => `${255 - i};0;0;${radiance.map((value) => value * level).join(';')}`).join('\n')}\n`
    const read = readRecordTable('colour-patches', table, ABSOLUTE)
    const stored = (reading: NewReading, id: number): Reading => ({ ...reading, id, addedAt: 'then', hidden: false })
    const given = newReadingSchema.parse({
      campaignId: 3,
      kind: 'colour-patches',
      quantity: 'As delivered',
      unit: 'cd/m²',
      series: seriesOf('colour-patches', read.rows),
      at: '2030-01-01T00:00:00Z',
    })
    const colours = stored(given, 1)
    const beside = spectraReadings(given, read.spectra).map((reading, i) => stored(reading, i + 2))
    const others = beside.map((reading) => ({ ...reading, addedAt: 'another time' }))
    const spectra = spectraOf(colours, [...others, colours, ...beside])
    expect(spectra).toHaveLength(3)
    const text = cgatsOf(colours, spectra)
    expect(readCgats(text).tables[0]?.fields.slice(7, 11)).toEqual([
      'SPECTRAL_NM',
      'SPECTRAL_DEC',
      'SPECTRAL_NM',
      'SPECTRAL_DEC',
    ])
    const again = readRecordTable('colour-patches', text, ABSOLUTE)
    expect(again.rows).toEqual(read.rows)
    expect(again.spectra).toEqual(spectra)
    // One patch without a spectrum: the colours go out alone.
    expect(spectraOf(colours, others)).toEqual([])
    expect(readCgats(cgatsOf(colours, spectra.slice(1))).tables[0]?.fields).toHaveLength(7)
    // Colours of another observer or scale beside a spectrum were not computed from it.
    const [, x = ''] = /255\t0\t0\t(\S+)/.exec(text) ?? []
    expect(readRecordTable('colour-patches', text.replace(x, String(Number(x) * 1.001)), ABSOLUTE).spectra).toEqual([])
  })

  it('are taken in any order of wavelengths', () => {
    const shuffled = WAVELENGTHS.map((nm, i) => [nm, radiance[i] ?? 0] as const).toReversed()
    const text = `r,g,b,${shuffled.map(([nm]) => nm).join(',')}\n255,255,255,${shuffled.map(([, value]) => value).join(',')}\n`
    expect(rowOf(text)).toEqual(rowOf(named))
  })

  it('without an absolute scale stand at the stated luminance of their white', () => {
    const relative = csv.replaceAll(/;(\d\.\d+e-\d+|0\.\d+)/g, (_, value: string) => `;${1e4 * Number(value)}`)
    const scaled = rowOf(relative, { rgbMax: 255, whiteLuminance: 120 })
    expect(scaled[4]).toBeCloseTo(120, 9)
    const grey = relative.replace('255;255;255', '128;128;128')
    expect(() => rowOf(grey, { rgbMax: 255, whiteLuminance: 120 })).toThrow('Relative spectra need that of white')
  })

  it('are refused as percentages, or with a wavelength twice', () => {
    expect(() => rowOf(pairs.replaceAll('SPECTRAL_DEC', 'SPECTRAL_PCT'))).toThrow('not light')
    expect(() => rowOf(pairs.replace(' 365 ', ' 360 '))).toThrow('360 nm comes twice in row 1')
  })

  it('survive being written, number for number', () => {
    for (const text of [named, pairs]) {
      const { identifier, tables } = readCgats(text)
      expect(readCgats(writeCgats({ identifier, tables })).tables).toEqual(tables)
    }
  })
})
