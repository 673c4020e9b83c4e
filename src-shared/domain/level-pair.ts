export interface LevelPair {
  readonly from: number
  readonly to: number
}

/** A transition as one word, for tables and lists. */
export const pairKey = ({ from, to }: LevelPair): string => `${from} ${to}`

/** What has the same key, together; groups and their members in the order of `items`. */
export function grouped<T, K>(items: readonly T[], keyOf: (item: T) => K): Map<K, T[]> {
  const groups = new Map<K, T[]>()
  for (const item of items) {
    const key = keyOf(item)
    const group = groups.get(key)
    if (group === undefined) groups.set(key, [item])
    else group.push(item)
  }
  return groups
}

/** Single things by their transition; of two alike the last one counts. */
export const byPair = <T extends LevelPair>(items: readonly T[]): ReadonlyMap<string, T> =>
  new Map(items.map((item) => [pairKey(item), item]))
