/** Spectra that came with colours, as readings beside them. */
import { newReadingSchema, type NewReading, type Reading } from '#shared/domain/reading.ts'
import { MAX_SERIES, recordKind, rowsOf, seriesOf } from '#shared/domain/record-kinds.ts'
import { AppError } from '#shared/domain/errors.ts'
import type { Spectrum } from './spectral-fields.ts'

/** Stored in one go together with their colours. */
const MOST_READINGS = 63
/** Less is nothing: a spectrometer's noise of a display's black is larger; common practice, no source. */
const LEAST_RADIANCE = 1e-12

const partsOf = ({ quantity }: Pick<NewReading, 'quantity'>): string => `${quantity.slice(0, 80)}, part `

/** @param spectra of each row of the reading of colours. Throws `invalid-input` where they are too many. */
export function spectraReadings(colours: NewReading, spectra: readonly Spectrum[]): NewReading[] {
  const { label, unit, columns } = recordKind('colour-spectra')
  const rows = spectra.flatMap((spectrum, i) =>
    spectrum.map(([nm, radiance]) => [i + 1, nm, Math.abs(radiance) < LEAST_RADIANCE ? 0 : radiance]),
  )
  const size = Math.floor(MAX_SERIES / columns.length)
  const count = Math.ceil(rows.length / size)
  if (count > MOST_READINGS)
    throw new AppError(
      'invalid-input',
      `${label}: ${rows.length} values are too many to be stored at once.`,
      'Split the patches into several files, or export the spectra in steps of 4 or 5 nm.',
    )
  return Array.from({ length: count }, (_, k) =>
    newReadingSchema.parse({
      ...colours,
      kind: 'colour-spectra',
      quantity: count === 1 ? colours.quantity : `${partsOf(colours)}${k + 1} of ${count}`,
      unit,
      series: seriesOf('colour-spectra', rows.slice(k * size, (k + 1) * size)),
      u: null,
      note: 'X, Y and Z of the colour patches stored with it were computed from these spectra.',
    }),
  )
}

/** The spectra stored together with colours, in the order of their rows; empty where there are none, or not all. */
export function spectraOf(colours: Reading, readings: readonly Reading[]): Spectrum[] {
  const own = readings.filter(
    ({ kind, hidden, at, addedAt, quantity }) =>
      kind === 'colour-spectra' &&
      !hidden &&
      at === colours.at &&
      addedAt === colours.addedAt &&
      (quantity === colours.quantity || quantity.startsWith(partsOf(colours))),
  )
  const points = own.flatMap((reading) => rowsOf(reading))
  const spectra = rowsOf(colours).map((_, i) =>
    points.filter(([patch]) => patch === i + 1).map(([, nm = 0, radiance = 0]) => [nm, radiance] as const),
  )
  return spectra.every(({ length }) => length > 0) ? spectra : []
}
