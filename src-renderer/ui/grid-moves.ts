/** Where a key leads in a square grid of cells; null when the key is not one of the grid's (ARIA grid pattern). */
export function moveInGrid(
  [row, column]: readonly [number, number],
  key: string,
  ctrl: boolean,
  size: number,
): readonly [number, number] | null {
  const last = size - 1
  const clamp = (value: number) => Math.min(last, Math.max(0, value))
  switch (key) {
    case 'ArrowUp':
      return [clamp(row - 1), column]
    case 'ArrowDown':
      return [clamp(row + 1), column]
    case 'ArrowLeft':
      return [row, clamp(column - 1)]
    case 'ArrowRight':
      return [row, clamp(column + 1)]
    case 'Home':
      return [ctrl ? 0 : row, 0]
    case 'End':
      return [ctrl ? last : row, last]
    case 'PageUp':
      return [0, column]
    case 'PageDown':
      return [last, column]
    default:
      return null
  }
}
