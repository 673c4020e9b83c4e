/** Where labels stand so that none covers another: as near as possible to where they belong, at least `gap` apart. */
export function apart(wanted: readonly number[], gap: number, low: number, high: number): number[] {
  const order = wanted.map((_, i) => i).sort((a, b) => (wanted[a] as number) - (wanted[b] as number))
  const placed = Array.from<number>({ length: wanted.length })
  let floor = low
  for (const i of order) {
    const at = Math.max(wanted[i] as number, floor)
    placed[i] = at
    floor = at + gap
  }
  let ceiling = high
  for (let k = order.length - 1; k >= 0; k--) {
    const i = order[k] as number
    const at = Math.min(placed[i] as number, ceiling)
    placed[i] = at
    ceiling = at - gap
  }
  return placed
}
