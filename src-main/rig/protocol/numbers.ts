/**
 * Numbers in SCPI answers and commands. Specials by SCPI-1999 Volume 1, 7.2.1: 9.91E37 stands for not-a-number,
 * ±9.9E37 for ±infinity; the words NAN, INFinity and NINF are understood too.
 */
const DECIMAL = /^[+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d{1,3})?$/
const SPECIALS: Readonly<Record<string, number>> = {
  NAN: NaN,
  INF: Infinity,
  INFINITY: Infinity,
  NINF: -Infinity,
  NINFINITY: -Infinity,
}

/** NaN for SCPI's not-a-number; null when the text is no number at all. */
export function parseNumber(text: string): number | null {
  const trimmed = text.trim()
  const special = SPECIALS[trimmed.toUpperCase()]
  if (special !== undefined) return special
  if (!DECIMAL.test(trimmed)) return null
  return fromSpecial(Number(trimmed))
}

/** An integer in decimal (NR1) or the non-decimal forms #H, #Q, #B of IEEE 488.2 7.7.4; null otherwise. */
export function parseInteger(text: string): number | null {
  const trimmed = text.trim()
  const coded = /^#(?:H([0-9a-f]{1,13})|Q([0-7]{1,17})|B([01]{1,53}))$/i.exec(trimmed)
  if (coded) {
    const [, hex, octal, binary] = coded
    if (hex !== undefined) return Number.parseInt(hex, 16)
    return octal === undefined ? Number.parseInt(binary ?? '', 2) : Number.parseInt(octal, 8)
  }
  const value = parseNumber(trimmed)
  return value !== null && Number.isSafeInteger(value) ? value : null
}

/** Replaces SCPI's stand-ins; binary transfers carry them as plain numbers too, there rounded to single precision. */
export function fromSpecial(value: number): number {
  if (Math.abs(value - 9.91e37) < 1e32) return NaN
  if (Math.abs(value - 9.9e37) < 1e32) return Infinity
  if (Math.abs(value + 9.9e37) < 1e32) return -Infinity
  return value
}

/** Shortest text that reads back as the same number (NR1, NR2 or NR3). */
export function formatNumber(value: number): string {
  if (!Number.isFinite(value)) throw new RangeError('Only finite numbers can be sent.')
  return String(value).toUpperCase().replace('E+', 'E')
}
