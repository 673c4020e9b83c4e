const NUMBER = /^[+-]?(\d+\.?\d*|\.\d+)(e[+-]?\d+)?$/i
/** Could be one number with a decimal comma, a number in thousands, or two numbers. */
const AMBIGUOUS = /^[+-]?\d{1,3}(,\d{3})+$/

/**
 * A number with point or comma as its decimal sign; null for anything else, and for what could be read in two ways:
 * `144,165` may be 144.165, one hundred and forty-four thousand, or two refresh rates.
 */
export function parseNumber(text: string): number | null {
  const trimmed = text.trim().replace('\u2212', '-')
  if (AMBIGUOUS.test(trimmed)) return null
  const plain = trimmed.replace(',', '.')
  if (!NUMBER.test(plain)) return null
  const value = Number(plain)
  return Number.isFinite(value) ? value : null
}

/** What is wrong with a text that `parseNumber` does not take, and what to type. */
export function numberProblem(text: string): string {
  const trimmed = text.trim()
  if (trimmed === '') return 'A number is missing.'
  if (AMBIGUOUS.test(trimmed))
    return `“${trimmed}” can be read in two ways. Use a point: ${trimmed.replace(',', '.').replaceAll(',', '')}.`
  if (/[,;\s]/.test(trimmed) && !NUMBER.test(trimmed.replace(',', '.'))) return 'One number only.'
  return 'This is not a number.'
}
