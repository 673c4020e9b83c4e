/** Light of tables that hold spectra: columns named by wavelength, or pairs of wavelength and value (CGATS, ISO 28178). */
import { tristimulus } from '#shared/colour/observer.ts'
import { AppError } from '#shared/domain/errors.ts'
import type { CgatsValue } from './cgats.ts'
import { numberIn } from './strict-number.ts'

type Light = (row: readonly CgatsValue[], number: number) => readonly [number, number, number]

/** Fewer wavelengths are no spectrum of a display. */
const LEAST_BANDS = 10
/** `SPECTRAL_380`, `SPECTRAL_NM380`, `NM_380`, and as other programs write them, `380` and `380 nm`. */
const NAMED = /^(?:SPECTRAL_(?:NM_?)?|NM_?)?(\d{3,4}(?:\.\d+)?)\s*(?:nm)?$/i

/**
 * How a row's spectral radiance, W/(m²·sr·nm), becomes XYZ in cd/m²; null where the fields hold no spectrum. Wavelengths
 * may stand in any order; one that comes twice is refused, and so are percentages, which are no light.
 */
export function spectralLight(fields: readonly string[]): Light | null {
  const named = fields.flatMap((field, index) => {
    const [, nm] = NAMED.exec(field.trim()) ?? []
    return nm === undefined ? [] : [{ index, nm: Number(nm) }]
  })
  if (named.length >= LEAST_BANDS)
    return (row, number) =>
      lightOf(
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
    lightOf(
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

function lightOf(points: readonly (readonly [nm: number, value: number])[], row: number): [number, number, number] {
  const sorted = [...points].sort(([a], [b]) => a - b)
  const twice = sorted.find(([nm], i) => i > 0 && nm === sorted[i - 1]?.[0])
  if (twice !== undefined)
    throw new AppError('import-unreadable', `${twice[0]} nm comes twice in row ${row}.`, 'Give each wavelength once.')
  const [x, y, z] = tristimulus(
    sorted.map(([nm]) => nm),
    sorted.map(([, value]) => value),
  )
  // Noise of a dark patch may be below nothing; a reading of light is not.
  return [Math.max(0, x), Math.max(0, y), Math.max(0, z)]
}
