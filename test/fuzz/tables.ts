/** Damaged and random tables against the readers of CGATS and delimited text. */
import { RECORD_KIND_IDS, seriesOf, type RecordKindId } from '#shared/domain/record-kinds.ts'
import { AppError } from '#shared/domain/errors.ts'
import { seededRandom } from '#shared/domain/seeded-random.ts'
import { readCgats, writeCgats } from '#shared/import/cgats.ts'
import { readRecordTable } from '#shared/import/record-rows.ts'

const WORDS = [
  'CGATS.17',
  'IT8.7/2',
  'BEGIN_DATA_FORMAT',
  'END_DATA_FORMAT',
  'BEGIN_DATA',
  'END_DATA',
  'NUMBER_OF_FIELDS',
  'NUMBER_OF_SETS',
  'KEYWORD',
  'RGB_R',
  'RGB_G',
  'RGB_B',
  'XYZ_X',
  'XYZ_Y',
  'XYZ_Z',
  'SPECTRAL_400',
  'SPECTRAL_NM',
  'SPECTRAL_PCT',
  'SAMPLE_ID',
  'code',
  'luminance',
  '"',
  "'",
  '#',
  ',',
  ';',
  '\t',
  ' ',
  '\n',
  '\r\n',
  '\r',
  '\0',
  '\uFEFF',
  '.INCLUDE',
  '1e999',
  '-0',
  '0x1F',
  '3.5',
  '255',
  'NaN',
  '1,5',
  'é',
  '𝄞',
]
const bands = Array.from({ length: 12 }, (_, i) => 400 + 25 * i)
/** White as CGATS: wavelengths in the names of the columns, or in pairs with the values. */
const spectral = (name: string, cell: (nm: number) => string): string =>
  `CGATS.17\nBEGIN_DATA_FORMAT\nRGB_R RGB_G RGB_B ${bands.map((nm) => (name.endsWith('_') ? `${name}${nm}` : name)).join(' ')}\nEND_DATA_FORMAT\nBEGIN_DATA\n255 255 255 ${bands.map(cell).join(' ')}\nEND_DATA\n`
const VALID: readonly (readonly [RecordKindId, string])[] = [
  [
    'colour-patches',
    'CGATS.17\nORIGINATOR "x"\nNUMBER_OF_FIELDS 7\nBEGIN_DATA_FORMAT\nSAMPLE_ID RGB_R RGB_G RGB_B XYZ_X XYZ_Y XYZ_Z\nEND_DATA_FORMAT\nNUMBER_OF_SETS 2\nBEGIN_DATA\n1 255 255 255 114.05 120 130.69\n2 128 128 128 24.62 25.9 28.21\nEND_DATA\n',
  ],
  ['luminance-ladder', 'code,luminance\n0,0.1\n128,20.5\n255,100\n'],
  ['colour-patches', 'r;g;b;x;y;z\n255;255;255;95;100;108\n0;0;0;0.1;0.1;0.1\n'],
  ['colour-patches', spectral('SPECTRAL_NM SPECTRAL_DEC', (nm) => `${nm} 0.01`)],
  ['colour-patches', spectral('SPECTRAL_', () => '2e-3')],
  [
    'colour-patches',
    `r,g,b,${bands.map((nm) => `${nm} nm`).join(',')}\n255,255,255,${bands.map(() => '0.01').join(',')}\n`,
  ],
  ['uniformity', '100\t101\t99\n98\t100\t97\n99\t98\t96\n'],
]

/**
 * Reads `count` texts made from a seed. Every one must be answered by rows that a reading takes, or by an AppError;
 * what CGATS reads must survive being written. Throws otherwise, with the text.
 */
export function fuzzTables(count: number, seed: number): { readonly accepted: number; readonly refused: number } {
  const random = seededRandom(seed)
  const pick = <T>(list: readonly T[]): T => list[Math.floor(random() * list.length)] as T
  let [accepted, refused] = [0, 0]
  for (let i = 0; i < count; i++) {
    const [natural, valid] = pick(VALID)
    const mixed = (): string =>
      Array.from({ length: Math.floor(random() * 40) }, () => pick(WORDS)).join(pick(['', ' ', '\n']))
    const text = random() < 0.3 ? mixed() : damaged(valid)
    const kind = random() < 0.8 ? natural : pick(RECORD_KIND_IDS)
    try {
      const { rows } = readRecordTable(kind, text, { rgbMax: pick([1, 100, 255]), whiteLuminance: pick([null, 120]) })
      const series = seriesOf(kind, rows)
      if (series.some((value) => !Number.isFinite(value))) throw new Error('a value is not finite')
      accepted++
    } catch (error) {
      if (!(error instanceof AppError)) throw new Error(`${JSON.stringify(text)} as ${kind}`, { cause: error })
      refused++
    }
    survives(text)
  }
  return { accepted, refused }

  function damaged(text: string): string {
    let made = text
    for (let cuts = Math.floor(random() * 4); cuts > 0; cuts--) {
      const at = Math.floor(random() * (made.length + 1))
      const upTo = at + Math.floor(random() * 3)
      made = made.slice(0, at) + (random() < 0.5 ? pick(WORDS) : '') + made.slice(upTo)
    }
    return made
  }
}

function survives(text: string): void {
  let read
  try {
    read = readCgats(text)
  } catch (error) {
    if (error instanceof AppError) return
    throw new Error(JSON.stringify(text), { cause: error })
  }
  let written
  try {
    written = writeCgats(read)
  } catch (error) {
    if (error instanceof RangeError) return
    throw error
  }
  const again = readCgats(written)
  if (JSON.stringify(again.tables) !== JSON.stringify(read.tables))
    throw new Error(`changed by writing: ${JSON.stringify(text)}`)
}
