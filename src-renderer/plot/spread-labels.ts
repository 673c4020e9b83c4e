/** Places labels in a gutter: each as near as can be to what it names, none over another. Units are free (pixels). */

export interface SpreadRequest {
  /** Where its middle would be best. */
  readonly at: number
  readonly size: number
}

interface Block {
  /** Sum over its labels of where the block would begin for each, and how many they are. */
  sum: number
  readonly labels: number[]
  length: number
}

/**
 * Middles of the labels, in the order asked: with the least sum of squared moves from where they want to be, none
 * over another and none beyond the ends. Labels keep the order of their places (equal places: the order asked). Where
 * they do not all fit, the last asked are left out (null).
 */
export function spreadLabels(requests: readonly SpreadRequest[], from: number, to: number): readonly (number | null)[] {
  const placed: (number | null)[] = requests.map(() => null)
  let kept = requests.length
  const room = to - from
  while (kept > 0 && requests.slice(0, kept).reduce((sum, { size }) => sum + size, 0) > room) kept -= 1
  const order = Array.from({ length: kept }, (_, i) => i).sort((a, b) => requests[a]!.at - requests[b]!.at || a - b)
  // Neighbours that would overlap stand side by side as one block, at the mean of what they want (pool adjacent violators).
  const blocks: Block[] = []
  const begin = (block: Block) => Math.min(Math.max(block.sum / block.labels.length, from), to - block.length)
  for (const i of order) {
    const { at, size } = requests[i]!
    let block: Block = { sum: at - size / 2, labels: [i], length: size }
    for (let before = blocks.at(-1); before !== undefined; before = blocks.at(-1)) {
      if (begin(before) + before.length <= begin(block)) break
      blocks.pop()
      block = {
        sum: before.sum + block.sum - before.length * block.labels.length,
        labels: [...before.labels, ...block.labels],
        length: before.length + block.length,
      }
    }
    blocks.push(block)
  }
  for (const block of blocks) {
    let edge = begin(block)
    for (const i of block.labels) {
      const { size } = requests[i]!
      placed[i] = edge + size / 2
      edge += size
    }
  }
  return placed
}

/** Where a name of half width `half` stands between two ends beside the lines at `xs`: in the middle if it can. */
export function clearOf(xs: readonly number[], from: number, to: number, half: number): number {
  const middle = (from + to) / 2
  const ends = [from, ...xs.filter((x) => x > from && x < to).toSorted((a, b) => a - b), to]
  const places = ends.slice(1).flatMap((end, i) => {
    const start = ends[i] as number
    return end - start < 2 * half ? [] : [Math.min(end - half, Math.max(start + half, middle))]
  })
  return places.toSorted((a, b) => Math.abs(a - middle) - Math.abs(b - middle))[0] ?? middle
}
