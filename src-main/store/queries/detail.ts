/** Landmarks, uncertainties and reasons of a result, in their tables. */
import { MEASURE_IDS, type MeasureId } from '#shared/domain/measures.ts'
import type { Landmarks, Result } from '#shared/domain/result.ts'
import type { Archive } from '../archive.ts'
import { commonColumn, uncertaintyColumn } from '../measure-columns.ts'

type Numbers = Readonly<Record<string, number | null>>
type Single = Exclude<keyof Landmarks, Pair>
type Pair = 'beforeWindow' | 'afterWindow' | 'startBandV' | 'endBandV'

const PAIRS: Readonly<Record<Pair, readonly [string, string]>> = {
  beforeWindow: ['before_window_start_s', 'before_window_end_s'],
  afterWindow: ['after_window_start_s', 'after_window_end_s'],
  startBandV: ['start_band_low_v', 'start_band_high_v'],
  endBandV: ['end_band_low_v', 'end_band_high_v'],
}
const SINGLES: Readonly<Record<Single, string>> = {
  beforeV: 'before_v',
  afterV: 'after_v',
  onsetS: 'onset_s',
  crossLowS: 'cross_low_s',
  crossMidS: 'cross_mid_s',
  crossHighS: 'cross_high_s',
  arrivalAtS: 'arrival_at_s',
  settledAtS: 'settled_at_s',
  overshootAtS: 'overshoot_at_s',
  overshootV: 'overshoot_v',
  undershootAtS: 'undershoot_at_s',
  undershootV: 'undershoot_v',
  referenceLowV: 'reference_low_v',
  referenceHighV: 'reference_high_v',
}
const PAIR_IDS = Object.keys(PAIRS) as Pair[]
const SINGLE_IDS = Object.keys(SINGLES) as Single[]
const COLUMNS = [
  ...PAIR_IDS.flatMap((id) => PAIRS[id]),
  ...SINGLE_IDS.map((id) => SINGLES[id]),
  ...MEASURE_IDS.map(uncertaintyColumn),
  ...MEASURE_IDS.map(commonColumn),
]
const INSERT = `INSERT INTO result_detail (result_id, ${COLUMNS.join(', ')})
VALUES (?, ${COLUMNS.map(() => '?').join(', ')})`

/** Number of a text in a table that keeps each text once. */
function numberOf(archive: Archive, table: 'measure' | 'phrase', column: 'name' | 'words', text: string): number {
  const known = archive.numbers[table]
  let number = known.get(text)
  if (number === undefined) {
    const found = archive.sql(`SELECT id FROM ${table} WHERE ${column} = ?`).pluck().get(text)
    number =
      typeof found === 'number'
        ? found
        : Number(archive.sql(`INSERT INTO ${table} (${column}) VALUES (?)`).run(text).lastInsertRowid)
    if (known.size > 5000) known.clear()
    known.set(text, number)
  }
  return number
}

export function insertDetail(archive: Archive, resultId: number, result: Result): void {
  const { landmarks, uncertainties, common = {}, reasons } = result
  const numbers: (number | null)[] = []
  for (const id of PAIR_IDS) numbers.push(...(landmarks[id] ?? [null, null]))
  for (const id of SINGLE_IDS) numbers.push(landmarks[id])
  for (const id of MEASURE_IDS) numbers.push(uncertainties[id] ?? null)
  for (const id of MEASURE_IDS) numbers.push(common[id] ?? null)
  archive.sql(INSERT).run(resultId, ...numbers)
  for (const [id, reason] of Object.entries(reasons))
    archive
      .sql('INSERT INTO result_reason (result_id, measure_id, phrase_id) VALUES (?, ?, ?)')
      .run(resultId, numberOf(archive, 'measure', 'name', id), numberOf(archive, 'phrase', 'words', reason))
}

export function detailOf(
  archive: Archive,
  resultId: number,
): Pick<Result, 'landmarks' | 'uncertainties' | 'common' | 'reasons'> {
  const row = archive.sql('SELECT * FROM result_detail WHERE result_id = ?').get(resultId) as Numbers
  const pair = ([low, high]: readonly [string, string]): readonly [number, number] | null => {
    const [a, b] = [row[low] ?? null, row[high] ?? null]
    return a === null || b === null ? null : [a, b]
  }
  const landmarks = {
    ...Object.fromEntries(PAIR_IDS.map((id) => [id, pair(PAIRS[id])])),
    ...Object.fromEntries(SINGLE_IDS.map((id) => [id, row[SINGLES[id]] ?? null])),
  } as unknown as Landmarks
  const numbersIn = (column: (id: MeasureId) => string): Partial<Record<MeasureId, number>> => {
    const numbers: Partial<Record<MeasureId, number>> = {}
    for (const id of MEASURE_IDS) {
      const value = row[column(id)] ?? null
      if (value !== null) numbers[id] = value
    }
    return numbers
  }
  // Results of earlier measuring code do not tell it apart, which is not the same as none.
  const common = numbersIn(commonColumn)
  const reasons = archive
    .sql(
      `SELECT m.name, p.words FROM result_reason r JOIN measure m ON m.id = r.measure_id
       JOIN phrase p ON p.id = r.phrase_id WHERE r.result_id = ?`,
    )
    .raw()
    .all(resultId) as [MeasureId, string][]
  return {
    landmarks,
    uncertainties: numbersIn(uncertaintyColumn),
    ...(Object.keys(common).length === 0 ? {} : { common }),
    reasons: Object.fromEntries(reasons) as Result['reasons'],
  }
}
