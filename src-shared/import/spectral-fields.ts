/** Light of tables that hold spectra: columns named by wavelength, or pairs of wavelength and value (CGATS, ISO 28178). */
import { tristimulus } from '#shared/colour/observer.ts'
import { AppError } from '#shared/domain/errors.ts'
import type { CgatsValue } from './cgats.ts'
import { numberIn } from './strict-number.ts'

/** Wavelength, nm, and spectral radiance, W/(m²·sr·nm), of each point in rising order. */
export type Spectrum = readonly (readonly [nm: number, radiance: number])[]
type SpectrumOf = (row: readonly CgatsValue[], number: number) => Spectrum

/** Fewer wavelengths are no spectrum of a display. */
const LEAST_BANDS = 10
/** `SPECTRAL_380`, `SPECTRAL_NM380`, `NM_380`, and as other programs write them, `380` and `380 nm`. */
const NAMED = /^(?:SPECTRAL_(?:NM_?)?|NM_?)?(\d{3,4}(?:\.\d+)?)\s*(?:nm)?$/i

/**
 * How a row's spectral radiance, W/(m²·sr·nm), is read; null where the fields hold no spectrum. Wavelengths may stand in
 * any order; one that comes twice is refused, and so are percentages, which are no light.
 */
export function spectrumIn(fields: readonly string[]): SpectrumOf | null {
  const named = fields.flatMap((field, index) => {
    const [, nm] = NAMED.exec(field.trim()) ?? []
    return nm === undefined ? [] : [{ index, nm: Number(nm) }]
  })
  if (named.length >= LEAST_BANDS)
    return (row, number) =>
      sorted(
        named.map(({ index, nm }) => [nm, numberIn(row[index] ?? '', `${nm} nm`, number)] as const),
        number,
      )
  const pairs = fields.flatMap((field, index) => (/^SPECTRAL_NM$/i.test(field) ? [index] : []))
  if (pairs.length < LEAST_BANDS) return null
  if (pairs.some((index) => !/^SPECTRAL_(DEC|PCT)$/i.test(fields[index + 1] ?? ''))) return null
  if (pairs.some((index) => /^SPECTRAL_PCT$/i.test(fields[index + 1] ?? '')))
    throw new AppError(
      'import-unreadable',
      'The spectra are percentages (SPECTRAL_PCT): a reflectance or transmittance, not light.',
      'Export spectral radiance of the display (SPECTRAL_DEC).',
    )
  return (row, number) =>
    sorted(
      pairs.map(
        (index) =>
          [
            numberIn(row[index] ?? '', 'SPECTRAL_NM', number),
            numberIn(row[index + 1] ?? '', 'SPECTRAL_DEC', number),
          ] as const,
      ),
      number,
    )
}

function sorted(points: Spectrum, row: number): Spectrum {
  const rising = [...points].sort(([a], [b]) => a - b)
  const twice = rising.find(([nm], i) => i > 0 && nm === rising[i - 1]?.[0])
  if (twice !== undefined)
    throw new AppError('import-unreadable', `${twice[0]} nm comes twice in row ${row}.`, 'Give each wavelength once.')
  return rising
}

/** X, Y and Z, cd/m². */
export function lightOf(spectrum: Spectrum): [number, number, number] {
  const [x, y, z] = tristimulus(
    spectrum.map(([nm]) => nm),
    spectrum.map(([, radiance]) => radiance),
  )
  // Noise of a dark patch may be below nothing; a reading of light is not.
  return [Math.max(0, x), Math.max(0, y), Math.max(0, z)]
}
