/**
 * Puts what a meter said into rows of numbers: at the end of the last row where that row has come to the metered column,
 * else as a row of its own.
 */
export function placeValue(text: string, value: number, column: number, columns: number): string {
  const lines = text.split('\n')
  const last = lines.at(-1) ?? ''
  const typed =
    last.trim() === ''
      ? 0
      : last
          .trim()
          .split(/[\s;,]+/)
          .filter((part) => part !== '').length
  const rest = column + 1 < columns ? ' ' : '\n'
  if (typed === column) return [...lines.slice(0, -1), `${[last.trim(), value].join(' ').trim()}${rest}`].join('\n')
  const before = text.trimEnd()
  return `${before}${before === '' ? '' : '\n'}${value}${rest}`
}
