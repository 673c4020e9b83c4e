/** Numbers with their uncertainty as people read them, the same on screens, in reports and on the command line. */

const MINUS = '\u2212'

/** Fixed decimals with a true minus sign; a rounded zero never carries one. */
export function fixed(value: number, decimals: number): string {
  const digits = Math.abs(value).toFixed(decimals)
  return value < 0 && Number(digits) !== 0 ? MINUS + digits : digits
}

/** Decimals that show an uncertainty with two significant digits, one from 3 on; never more than `most`. */
export function decimalsFor(u95: number, most = 6): number {
  if (!(u95 > 0)) return 0
  const magnitude = Math.floor(Math.log10(u95))
  const leading = Number((u95 / 10 ** magnitude).toPrecision(2))
  return Math.min(most, Math.max(0, leading < 3 ? 1 - magnitude : -magnitude))
}

/**
 * `5.32 ± 0.12 ms`. Times in s are shown in ms. The value has as many decimals as its uncertainty; without one it is
 * given to three digits and says so. A doubt of 100 and more is rounded to its second leading place, the value with it;
 * a ratio or a power of ten stands outside brackets: `(1090 ± 180) : 1`.
 */
export function withUncertainty(value: number, u95: number | null, unit: string): string {
  const scale = unit === 's' ? 1000 : 1
  const suffix = unit === '' || unit === '1' ? '' : afterNumber(unit === 's' ? 'ms' : unit)
  const shown = value * scale
  if (u95 === null) return `${threeDigits(shown)}${suffix} (uncertainty unknown)`
  const u = u95 * scale
  const decimals = u === 0 ? decimalsOf(shown) : decimalsFor(u, 4)
  const place = u < 100 ? 1 : 10 ** (Math.floor(Math.log10(u)) - 1)
  const rounded = (size: number): string => fixed(place === 1 ? size : Math.round(size / place) * place, decimals)
  const both = `${rounded(shown)} ± ${rounded(u)}`
  return `${unit.startsWith(':') || POWER_OF_TEN.test(unit) ? `(${both})` : both}${suffix}`
}

const POWER_OF_TEN = /^10[⁻⁰¹²³⁴-⁹]/u

/** A unit as it follows a number: ` ms`, ` : 1`, ` × 10³ ΔE*ab³`. */
export const afterNumber = (unit: string): string => ` ${POWER_OF_TEN.test(unit) ? '× ' : ''}${unit}`

const decimalsOf = (value: number): number =>
  value === 0 ? 0 : Math.min(6, Math.max(0, 2 - Math.floor(Math.log10(Math.abs(value)))))
const threeDigits = (value: number): string => fixed(value, decimalsOf(value))

/** A whole number in groups of three with a narrow no-break space, as ISO 80000-1 writes large ones. */
export const grouped = (value: number): string => fixed(value, 0).replaceAll(/\B(?=(\d{3})+$)/g, '\u202f')

/** `1 sweep`, `3 sweeps`. */
export const plural = (n: number, one: string, many = `${one}s`): string => `${grouped(n)} ${n === 1 ? one : many}`

/** A text that no line break parts. */
export const onOneLine = (text: string): string => text.replaceAll(' ', '\u00a0')

/** A refresh rate without needless zeros: 60, 59.94, 143.86. */
export const hertz = (value: number): string => String(Number(value.toFixed(2)))

/** `A`, `A and B`, `A, B and C`. */
export function listed(items: readonly string[]): string {
  const last = items.at(-1)
  if (last === undefined) return ''
  return items.length === 1 ? last : `${items.slice(0, -1).join(', ')} and ${last}`
}

const twoDigits = (n: number): string => String(n).padStart(2, '0')

/** Spans for people: `8 s`, `3 min 05 s`, `1 h 02 min`. */
export function duration(seconds: number): string {
  const whole = Math.max(0, Math.round(seconds))
  if (whole < 60) return `${whole} s`
  if (whole < 3600) return `${Math.floor(whole / 60)} min ${twoDigits(whole % 60)} s`
  const minutes = Math.round(whole / 60)
  return `${Math.floor(minutes / 60)} h ${twoDigits(minutes % 60)} min`
}

/** An instant in UTC to the minute: `2026-03-04 09:26`. */
export const minute = (iso: string): string => iso.slice(0, 16).replace('T', ' ')
