/** Measures as text and as JSON keys. */
import { MEASURES, type MeasureId, type MeasureInfo } from '#shared/domain/measures.ts'
import { decimalsFor, fixed } from '#shared/domain/quantity-text.ts'
import { shortNumber } from './output.ts'

const SUFFIX: Readonly<Record<MeasureInfo['unit'], string>> = {
  s: '_s',
  '%': '_pct',
  code: '_code',
  V: '_v',
  Hz: '_hz',
  '1': '',
}

/** Key of a derived number in the unit of a measure: `mean_s`, `u95_pct`, `median`. */
export const keyIn = (name: string, measure: MeasureId): string => `${name}${SUFFIX[MEASURES[measure].unit]}`

/** Times are shown in ms, everything else in its unit. */
export const shownUnit = (measure: MeasureId): string => {
  const { unit } = MEASURES[measure]
  return unit === 's' ? 'ms' : unit === '1' ? '' : unit
}

/** `Transition duration, ms`. */
export const labelWithUnit = (measure: MeasureId): string => {
  const unit = shownUnit(measure)
  return unit === '' ? MEASURES[measure].label : `${MEASURES[measure].label}, ${unit}`
}

export function shownValue(measure: MeasureId, value: number | null): string {
  if (value === null) return '–'
  return shortNumber(MEASURES[measure].unit === 's' ? value * 1000 : value)
}

/** An uncertainty: two significant digits. */
export function twoDigits(measure: MeasureId, value: number): string {
  const shown = MEASURES[measure].unit === 's' ? value * 1000 : value
  return fixed(shown, decimalsFor(shown))
}

/** A value with the decimals of its standard uncertainty, and that with two digits: `13.45`, `± 0.018`. */
export function valueWithU(measure: MeasureId, value: number | null, u: number | undefined): [string, string] {
  if (measure === 'in_window' && value !== null) return [value === 1 ? 'yes' : 'no', '']
  if (value === null || u === undefined || !(u > 0))
    return [shownValue(measure, value), u === undefined ? '' : `± ${shownValue(measure, u)}`]
  const scale = MEASURES[measure].unit === 's' ? 1000 : 1
  return [fixed(value * scale, decimalsFor(u * scale)), `± ${twoDigits(measure, u)}`]
}

export function withUnit(measure: MeasureId, value: number | null): string {
  const unit = shownUnit(measure)
  return value === null || unit === '' ? shownValue(measure, value) : `${shownValue(measure, value)} ${unit}`
}

/** `crossMidS` → `cross_mid_s`. */
export const snakeCase = (name: string): string => name.replace(/[A-Z]/g, (letter) => `_${letter.toLowerCase()}`)
