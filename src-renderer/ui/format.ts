/** Numbers as the screens print them. SI values come in, the unit people read goes out beside the digits. */
import { MEASURES, type MeasureId } from '#shared/domain/measures.ts'
import { decimalsFor, fixed } from '#shared/domain/quantity-text.ts'

export { fixed, grouped as count, hertz, plural } from '#shared/domain/quantity-text.ts'

export interface Printed {
  readonly text: string
  readonly unit: string
}

/** What stands where a number is undefined; its reason belongs beside it. */
export const UNDEFINED_TEXT = '—'

/** Rounds to significant digits without exponents: 3 digits give 0.0123, 1.23, 12.3, 123, 1230. */
export function significant(value: number, digits: number): string {
  if (value === 0) return '0'
  const rounded = Number(value.toPrecision(digits))
  const magnitude = Math.floor(Math.log10(Math.abs(rounded)))
  return fixed(rounded, Math.min(12, Math.max(0, digits - 1 - magnitude)))
}

/** Milliseconds of a time in s: three decimals below 1 ms, two below 100 ms, then fewer. */
export function milliseconds(seconds: number): string {
  const ms = seconds * 1000
  const size = Math.abs(ms)
  if (size < 0.9995) return fixed(ms, 3)
  if (size < 99.995) return fixed(ms, 2)
  return fixed(ms, size < 999.95 ? 1 : 0)
}

function percent(value: number): string {
  return fixed(value, Math.abs(value) < 99.95 ? 1 : 0)
}

/** A measure's value with the unit it is read in; seconds are shown in ms. */
export function printMeasure(id: MeasureId, value: number): Printed {
  const { unit } = MEASURES[id]
  if (unit === 's') return { text: milliseconds(value), unit: 'ms' }
  if (unit === '%') return { text: percent(value), unit }
  if (unit === 'code') return { text: fixed(value, 1), unit }
  if (unit === 'Hz') return { text: Math.abs(value) < 1000 ? fixed(value, 2) : fixed(value, 0), unit }
  if (unit === '1') return { text: significant(value, 3), unit: '' }
  return Math.abs(value) < 0.1 ? { text: significant(value * 1000, 3), unit: 'mV' } : { text: fixed(value, 3), unit }
}

/** Smaller ones are nothing in four decimals. */
const LEAST_U = 5e-5

/** A value with the decimals of its standard uncertainty; null where that is unknown or too small to be shown. */
export const withDecimalsOf = (u: number | undefined, value: number): string | null =>
  u === undefined || u < LEAST_U ? null : fixed(value, decimalsFor(u, 4))

export const uncertaintyDigits = (u: number): string => (u < LEAST_U ? '< 0.0001' : fixed(u, decimalsFor(u, 4)))

/** What a number in SI units is multiplied by to be printed in `unit`. */
const scaleTo = (unit: string): number => (unit === 'ms' || unit === 'mV' ? 1000 : 1)

/** As `printMeasure`, with the decimals of the standard uncertainty `u` (in SI units, as the value) where it has one. */
export function printMeasured(id: MeasureId, value: number, u: number | undefined): Printed {
  const { text, unit } = printMeasure(id, value)
  const scale = scaleTo(unit)
  return { text: withDecimalsOf(u === undefined ? u : u * scale, value * scale) ?? text, unit }
}

/** The standard uncertainty of a value, in the unit the value is printed in. */
export function printUncertainty(id: MeasureId, value: number, u: number): string {
  const { unit } = printMeasure(id, value)
  return `${uncertaintyDigits(u * scaleTo(unit))} ${unit}`.trim()
}

/** Unit in which `printMeasure` and `shortMeasure` show a measure, for headings. */
export function displayUnit(id: MeasureId): string {
  if (id === 'in_window') return '%'
  const { unit } = MEASURES[id]
  return unit === 's' ? 'ms' : unit === '1' ? '' : unit
}

/**
 * Compact digits for a matrix cell, in `displayUnit`. A mean of `in_window` is a share and reads as percent.
 * Three significant digits, and never more decimals than the measurement supports (0.01 ms, 0.1 %, 0.1 code).
 */
export function shortMeasure(id: MeasureId, value: number): string {
  if (id === 'in_window') return fixed(value * 100, 0)
  const { unit } = MEASURES[id]
  if (unit === 's') {
    const ms = value * 1000
    const size = Math.abs(ms)
    return fixed(ms, size < 9.995 ? 2 : size < 99.95 ? 1 : 0)
  }
  if (unit === '%' || unit === 'code') return fixed(value, Math.abs(value) < 99.95 ? 1 : 0)
  return significant(value, 3)
}

const pad = (n: number) => String(n).padStart(2, '0')

export function bytes(count: number): string {
  const units = ['B', 'kB', 'MB', 'GB', 'TB']
  let value = count
  let step = 0
  while (value >= 999.5 && step < units.length - 1) {
    value /= 1000
    step += 1
  }
  return `${step === 0 ? String(Math.round(value)) : significant(value, 3)} ${units[step] as string}`
}

/** A number in a sentence stays on one line with its unit. */
export function unbroken(text: string): string {
  return text.replaceAll(/(?<=\d) (?=(?:%|ms|m?V|Hz|px|points|codes?)(?![\w]))|(?<=±) (?=\d)|(?<=\d) (?=±)/g, '\u00a0')
}

/** Grey-level pair as everything names it. */
export function pair(from: number, to: number): string {
  return `${from} → ${to}`
}

/** Wall-clock time of an ISO instant, hours to seconds, in local time. */
export function clockTime(iso: string): string {
  const date = new Date(iso)
  if (Number.isNaN(date.getTime())) return iso
  return `${pad(date.getHours())}:${pad(date.getMinutes())}:${pad(date.getSeconds())}`
}

/** Day and time of an ISO instant in local time: 2031-04-05 14:03:09. */
export function dayAndTime(iso: string): string {
  const date = new Date(iso)
  if (Number.isNaN(date.getTime())) return iso
  return `${date.getFullYear()}-${pad(date.getMonth() + 1)}-${pad(date.getDate())} ${clockTime(iso)}`
}
