/** Spectra that came with colours, as readings beside them. */
import { newReadingSchema, type NewReading } from '#shared/domain/reading.ts'
import { MAX_SERIES, recordKind, seriesOf } from '#shared/domain/record-kinds.ts'
import { AppError } from '#shared/domain/errors.ts'
import type { Spectrum } from './spectral-fields.ts'

/** Stored in one go together with their colours. */
const MOST_READINGS = 63
/** Less is nothing: a spectrometer's noise of a display's black is larger; common practice, no source. */
const LEAST_RADIANCE = 1e-12

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
      quantity: count === 1 ? colours.quantity : `${colours.quantity.slice(0, 80)}, part ${k + 1} of ${count}`,
      unit,
      series: seriesOf('colour-spectra', rows.slice(k * size, (k + 1) * size)),
      u: null,
      note: 'X, Y and Z of the colour patches stored with it were computed from these spectra.',
    }),
  )
}
