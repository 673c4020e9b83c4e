/** Strobing by place and flicker by brightness. */
import { rowsOf } from '#shared/domain/record-kinds.ts'
import type { Reading } from '#shared/domain/reading.ts'
import { listedFigure, ownEstimate, type RecordFigure } from './figures.ts'
import { lightFigures } from './light-readings.ts'
import { newest, quantityOf, type RecordQuantity } from './quantity.ts'
import { STROBE_PLACES, strobePoints, type StrobePoint } from './strobe-points.ts'

const TWO = 2

export interface StrobePart {
  readonly quantity: RecordQuantity
  readonly places: readonly StrobeAt[]
}

/** Strobing at one height of the screen; null where it is not known. */
export interface StrobeAt {
  readonly row: number
  readonly widthMs: number | null
  readonly phaseMs: number | null
  readonly dutyPct: number | null
  readonly crosstalkPct: number | null
  /** Half width of the 95 % interval of the crosstalk; null when none is stated. */
  readonly crosstalkU95: number | null
}

/** What was measured here, under the newest setting and refresh rate; else what was typed. */
function strobeAt(readings: readonly Reading[]): {
  readonly places: readonly StrobeAt[]
  readonly under: string
  readonly of: readonly Reading[]
} {
  const points = strobePoints(readings)
  const last = points.reduce<StrobePoint | null>((a, b) => (a === null || b.readingId > a.readingId ? b : a), null)
  const typed = newest(readings, 'strobe-by-place')
  if (last === null || (typed !== undefined && typed.id > last.readingId)) {
    const places = (typed === undefined ? [] : rowsOf(typed)).map(
      ([row = 0, widthMs = 0, phaseMs = 0, dutyPct = 0, crosstalkPct = 0]) => ({
        row,
        widthMs,
        phaseMs,
        dutyPct,
        crosstalkPct,
        crosstalkU95: null,
      }),
    )
    return { places, under: '', of: typed === undefined ? [] : [typed] }
  }
  const own = points.filter(({ setting, refreshHz }) => setting === last.setting && refreshHz === last.refreshHz)
  const places = Object.entries(STROBE_PLACES).flatMap(([place, row]) => {
    const at = own.filter((point) => point.place === place)
    const found = (quantity: StrobePoint['quantity']): StrobePoint | undefined =>
      at.find((point) => point.quantity === quantity)
    const value = (quantity: StrobePoint['quantity']): number | null => found(quantity)?.value ?? null
    const u = found('crosstalk')?.u ?? null
    return at.length === 0
      ? []
      : [
          {
            row,
            widthMs: value('pulse_width'),
            phaseMs: value('phase'),
            dutyPct: value('duty'),
            crosstalkPct: value('crosstalk'),
            crosstalkU95: u === null ? null : TWO * u,
          },
        ]
  })
  return {
    places,
    under: `${last.setting} at ${last.refreshHz} Hz`,
    of: readings.filter(({ id }) => own.some(({ readingId }) => readingId === id)),
  }
}

/** Of three places or more: the largest share of the old picture that is still seen, whatever its sign. */
function worstCrosstalk(places: readonly StrobeAt[], under: string): RecordFigure[] {
  const known = places.flatMap(({ row, crosstalkPct, crosstalkU95 }) =>
    crosstalkPct === null
      ? []
      : [{ row, size: Math.abs(crosstalkPct), u: crosstalkU95 === null ? null : crosstalkU95 / TWO }],
  )
  const [first, ...others] = known
  if (first === undefined || others.length < 2) return []
  const worst = others.reduce((a, b) => (b.size > a.size ? b : a), first)
  const heights = known.map(({ row }) => `${Math.round(100 * row)} %`)
  return [
    listedFigure(
      'strobe_crosstalk',
      ownEstimate(worst.size, worst.u),
      { heights: heights.join(', '), ...(under === '' ? {} : { under }) },
      { digits: 3, note: `At ${Math.round(100 * worst.row)} % of the height.` },
    ),
  ]
}

export function strobePart(readings: readonly Reading[]): StrobePart {
  const byBrightness = newest(readings, 'flicker-by-brightness')
  const { places: unsorted, under, of } = strobeAt(readings)
  const places = [...unsorted].sort((a, b) => a.row - b.row)
  const flicker = byBrightness === undefined ? [] : rowsOf(byBrightness)
  const words = (value: number | null, say: (number: number) => string): string[] =>
    value === null ? [] : [say(Number(value.toPrecision(4)))]
  const figures: RecordFigure[] = [
    ...places.flatMap(({ row, widthMs, dutyPct, crosstalkPct, crosstalkU95, phaseMs }): RecordFigure[] =>
      crosstalkPct === null
        ? []
        : [
            {
              label: `Crosstalk at ${Math.round(100 * row)} % of the height`,
              value: crosstalkPct,
              unit: '%',
              u95: crosstalkU95,
              digits: 3,
              note: [
                ...words(widthMs, (ms) => `Pulse ${ms} ms wide`),
                ...words(phaseMs, (ms) => `${ms} ms after the frame starts`),
                ...words(dutyPct, (pct) => `duty ${pct} %`),
                ...(under === '' ? [] : [under]),
              ]
                .join(', ')
                .concat('.'),
            },
          ],
    ),
    ...worstCrosstalk(places, under),
    ...flicker.map(([luminance = 0, percent = 0, index = 0, frequency = 0]) =>
      listedFigure(
        'percent_flicker',
        ownEstimate(percent, byBrightness?.u),
        { 'cd/m²': Number(luminance.toPrecision(4)) },
        {
          label: `Percent flicker at ${Number(luminance.toPrecision(4))} cd/m²`,
          digits: 3,
          note: `Flicker index ${Number(index.toPrecision(3))}, ${Number(frequency.toPrecision(5))} Hz.`,
        },
      ),
    ),
  ]
  const light = lightFigures(readings)
  const missing = [
    ...(places.length >= 3 ? [] : ['Pulse, phase and crosstalk at top, centre and bottom.']),
    ...(flicker.length >= 2 ? [] : ['Flicker at two or more settings of brightness.']),
  ]
  return {
    quantity: quantityOf(
      'strobe',
      'Strobing and flicker',
      ['strobe-by-place', 'flicker-by-brightness'],
      [...of, byBrightness, ...light.readings],
      [...figures, ...light.figures],
      missing,
    ),
    places,
  }
}
