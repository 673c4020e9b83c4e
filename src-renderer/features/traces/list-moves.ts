/**
 * Where a key leads in a list of `total` rows of which `page` fit on the screen; null when the key is not the list's.
 * `left` is the place from which the shown row has just gone (it was decided upon and no longer matches): the row after
 * it has moved there.
 */
export function moveInList(
  at: number | null,
  key: string,
  total: number,
  page: number,
  left: number | null = null,
): number | null {
  if (total === 0) return null
  if (at === null && left !== null)
    return moveInList(Math.min(key === 'ArrowDown' || key === 'PageDown' ? left - 1 : left, total), key, total, page)
  const last = total - 1
  const clamp = (value: number) => Math.min(last, Math.max(0, value))
  const step = Math.max(1, page - 1)
  switch (key) {
    case 'ArrowDown':
      return at === null ? 0 : clamp(at + 1)
    case 'ArrowUp':
      return at === null ? last : clamp(at - 1)
    case 'PageDown':
      return clamp((at ?? 0) + step)
    case 'PageUp':
      return clamp((at ?? 0) - step)
    case 'Home':
      return 0
    case 'End':
      return last
    default:
      return null
  }
}

/** Rows asked at a time. */
export const PAGE_ROWS = 100

/** Numbers of the pages that hold the rows first … last. */
export function pagesFor(first: number, last: number): readonly number[] {
  const from = Math.max(0, Math.floor(first / PAGE_ROWS))
  const to = Math.max(from, Math.floor(last / PAGE_ROWS))
  return Array.from({ length: to - from + 1 }, (_, i) => from + i)
}
