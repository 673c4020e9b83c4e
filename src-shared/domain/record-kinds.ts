/**
 * What a display's record is made of beyond its transitions: kinds of reading whose series is a small table, row after
 * row. A kind says what its columns are, so that a stored series can be read by anyone.
 */
import { AppError } from './errors.ts'
import type { Reading } from './reading.ts'

export interface RecordColumn {
  readonly id: string
  readonly label: string
  /** `1` for a ratio or a code. */
  readonly unit: string
  readonly min?: number
  readonly max?: number
}

export interface RecordKind {
  readonly label: string
  /** The unit that `u` of a reading is in: that of its main column. */
  readonly unit: string
  readonly columns: readonly RecordColumn[]
  /** Counts of rows that make sense; any from 1 when left out. */
  readonly rows?: readonly number[]
  /** How it is measured, in a sentence or two. */
  readonly how: string
}

const code = (id: string, label: string): RecordColumn => ({ id, label, unit: '1', min: 0, max: 255 })
const light = (id: string, label: string): RecordColumn => ({ id, label, unit: 'cd/m²', min: 0 })
/** The reference run is read as the display's own, or their difference would mean nothing. */
const LATENCY: readonly RecordColumn[] = [
  { id: 'refresh', label: 'Refresh', unit: 'Hz', min: 10, max: 1000 },
  { id: 'delay', label: 'Event to light', unit: 'ms', min: 0, max: 10_000 },
]

/** What the rig measures itself: the beginning of the light as well, and where on the screen. */
const LATENCY_RUN: readonly RecordColumn[] = [
  { id: 'refresh', label: 'Refresh', unit: 'Hz', min: 10, max: 1000 },
  { id: 'row', label: 'Height on the screen, 0 top to 1 bottom', unit: '1', min: 0, max: 1 },
  { id: 'onset', label: 'Event to first light', unit: 'ms', min: 0, max: 10_000 },
  { id: 'half', label: 'Event to half of the light step', unit: 'ms', min: 0, max: 10_000 },
]

export const RECORD_KINDS = {
  'input-latency': {
    label: 'Input latency',
    unit: 'ms',
    columns: LATENCY,
    how: 'Time from the input event to half of the light step on this display, one row an event, at least 100 events at random moments.',
  },
  'input-latency-reference': {
    label: 'Input latency, reference run',
    unit: 'ms',
    columns: LATENCY,
    how: 'The same host, input, refresh and place on a reference display or a light at the host’s output: the host’s own share.',
  },
  'input-latency-run': {
    label: 'Input latency, measured by the rig',
    unit: 'ms',
    columns: LATENCY_RUN,
    how: 'Made by “Measure input latency”: time from the input event to the first light and to half of the light step, one row an event.',
  },
  'input-latency-run-reference': {
    label: 'Input latency, reference run by the rig',
    unit: 'ms',
    columns: LATENCY_RUN,
    how: 'Made by “Measure input latency” on a reference display or a light at the host’s output: the host’s own share.',
  },
  'strobe-by-place': {
    label: 'Strobing by place',
    unit: 'ms',
    columns: [
      { id: 'row', label: 'Height on the screen, 0 top to 1 bottom', unit: '1', min: 0, max: 1 },
      { id: 'width', label: 'Pulse width', unit: 'ms', min: 0 },
      { id: 'phase', label: 'Pulse after the frame’s start', unit: 'ms' },
      { id: 'duty', label: 'Duty', unit: '%', min: 0, max: 100 },
      { id: 'crosstalk', label: 'Crosstalk', unit: '%' },
    ],
    how: 'Read on Light with the sensor at top, centre and bottom, and typed in here.',
  },
  'flicker-by-brightness': {
    label: 'Flicker by brightness',
    unit: '%',
    columns: [
      { id: 'luminance', label: 'Luminance', unit: 'cd/m²', min: 0 },
      { id: 'percent', label: 'Percent flicker', unit: '%', min: 0, max: 100 },
      { id: 'index', label: 'Flicker index', unit: '1', min: 0, max: 1 },
      { id: 'frequency', label: 'Frequency', unit: 'Hz', min: 0 },
    ],
    how: 'Read on Light at several settings of brightness, with the luminance of white at each.',
  },
  'detector-calibration': {
    label: 'Detector calibration',
    unit: 'cd/m²',
    columns: [
      light('luminance', 'Luminance by the meter'),
      { id: 'volts', label: 'Detector, same light', unit: 'V' },
      { id: 'dark', label: 'Detector, covered', unit: 'V' },
    ],
    rows: [1],
    how: 'Show white, read the luminance meter and the detector at the same place. Ladders measured by the detector are then in cd/m².',
  },
  'luminance-ladder': {
    label: 'Luminance ladder',
    unit: 'cd/m²',
    columns: [code('code', 'Grey level'), light('luminance', 'Luminance')],
    how: 'Full-screen or patch greys from 0 to 255, at least five, centre of the screen, dark room.',
  },
  'white-over-time': {
    label: 'White over time',
    unit: 'cd/m²',
    columns: [{ id: 'minutes', label: 'Time since switched on', unit: 'min', min: 0 }, light('luminance', 'Luminance')],
    how: 'White at the centre from switching on until it stays within 1 % over ten minutes.',
  },
  uniformity: {
    label: 'Uniformity',
    unit: 'cd/m²',
    columns: [light('luminance', 'Luminance')],
    rows: [9, 25],
    how: 'White at 3 × 3 or 5 × 5 places, row by row from top left.',
  },
  'viewing-angle': {
    label: 'Viewing angle',
    unit: 'cd/m²',
    columns: [
      { id: 'degrees', label: 'Angle from the normal', unit: '°', min: -90, max: 90 },
      light('luminance', 'Luminance'),
    ],
    how: 'White at the centre seen from the normal (0°) and from both sides, the meter kept on one patch.',
  },
  power: {
    label: 'Power',
    unit: 'W',
    columns: [
      { id: 'power', label: 'Power', unit: 'W', min: 0 },
      light('luminance', 'Mean luminance of the picture'),
      { id: 'area', label: 'Area of the picture', unit: 'm²', min: 0 },
    ],
    how: 'Mean of at least a minute after warming up, with the picture’s mean luminance (nine points, not the centre) and area.',
  },
  'colour-patches': {
    label: 'Colour patches',
    unit: 'cd/m²',
    columns: [
      code('r', 'R'),
      code('g', 'G'),
      code('b', 'B'),
      { id: 'x', label: 'X', unit: 'cd/m²', min: 0 },
      light('y', 'Y'),
      { id: 'z', label: 'Z', unit: 'cd/m²', min: 0 },
    ],
    how: 'Grey scale, red, green, blue and any patches by a colorimeter or spectrometer, as CGATS or CSV.',
  },
  'colour-spectra': {
    label: 'Spectra of colour patches',
    unit: 'W/(m²·sr·nm)',
    columns: [
      { id: 'patch', label: 'Patch, its row among the colours from 1', unit: '1', min: 1, max: 4096 },
      { id: 'wavelength', label: 'Wavelength', unit: 'nm', min: 100, max: 10_000 },
      // Noise of a dark patch may be below nothing.
      { id: 'radiance', label: 'Spectral radiance', unit: 'W/(m²·sr·nm)' },
    ],
    how: 'Stored beside colour patches that come as spectra: what X, Y and Z were computed from.',
  },
} as const satisfies Record<string, RecordKind>
export type RecordKindId = keyof typeof RECORD_KINDS
export const RECORD_KIND_IDS = Object.keys(RECORD_KINDS) as RecordKindId[]

/** Longest series a reading holds. */
export const MAX_SERIES = 4096
/** Beyond these nothing of a display is, in the units of the columns: a choice, far from any real reading. */
const [LEAST, GREATEST] = [1e-12, 1e9]

export const recordKind = (id: RecordKindId): RecordKind => RECORD_KINDS[id]

/** Which column of a kind a meter reads: the first in the kind's own unit; null where there is none. */
export function meteredColumn(id: RecordKindId): number | null {
  const { columns, unit } = recordKind(id)
  const place = columns.findIndex((column) => column.unit === unit)
  return (unit === 'cd/m²' || unit === 'W') && id !== 'colour-patches' && place >= 0 ? place : null
}

/** Rows of a reading's table; null entries and a length that does not fit make it unreadable: an empty list. */
export function rowsOf(reading: Pick<Reading, 'kind' | 'series' | 'value'>): readonly (readonly number[])[] {
  const kind = RECORD_KIND_IDS.find((id) => id === reading.kind)
  if (kind === undefined || reading.series === null) return []
  const width = RECORD_KINDS[kind].columns.length
  const { series } = reading
  if (series.length % width !== 0 || series.some((value) => value === null)) return []
  return Array.from({ length: series.length / width }, (_, i) => series.slice(i * width, (i + 1) * width) as number[])
}

/** False for what is computed of it, such as a contrast, to be beyond any number. */
export const isPossible = (
  value: number,
  { min = -GREATEST, max = GREATEST }: Pick<RecordColumn, 'min' | 'max'>,
): boolean => Number.isFinite(value) && value >= min && value <= max && (value === 0 || Math.abs(value) >= LEAST)

/** The rows as a series, checked against the kind. Throws `invalid-input` naming row and column. */
export function seriesOf(id: RecordKindId, rows: readonly (readonly number[])[]): number[] {
  const { columns, label, rows: counts } = recordKind(id)
  const problem = (text: string): AppError => new AppError('invalid-input', `${label}: ${text}`)
  if (rows.length === 0) throw problem('there is no row of numbers.')
  if (counts !== undefined && !counts.includes(rows.length))
    throw problem(`${rows.length} rows, and it takes ${counts.join(' or ')}.`)
  if (rows.length * columns.length > MAX_SERIES)
    throw new AppError(
      'invalid-input',
      `${label}: ${rows.length} rows are too many for one reading, which holds ${Math.floor(MAX_SERIES / columns.length)}.`,
      'Split them into several files.',
    )
  return rows.flatMap((row, i) => {
    if (row.length !== columns.length)
      throw problem(`row ${i + 1} has ${row.length} values, and it takes ${columns.length}.`)
    return row.map((value, k) => {
      const column = columns[k] as RecordColumn
      if (!isPossible(value, column))
        throw problem(`${column.label} in row ${i + 1} is ${value}, which is not possible.`)
      return value
    })
  })
}
