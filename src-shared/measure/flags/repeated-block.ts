/** A stretch of samples that repeats an earlier one exactly. Indices of the whole record. */
export interface RepeatedBlock {
  readonly first: number
  readonly at: number
  readonly length: number
}

/** Samples hashed together, and the distance between the anchors that are remembered: blocks from 52 samples on hold one. */
const GRAM = 20
const STRIDE = 32
const TABLE = 4096

const anchors = new Int32Array(TABLE)
const hashes = new Int32Array(TABLE)

/** Bits moved up by `by` places, those that fall out coming back at the bottom. */
const turned = (word: number, by: number): number => (word << by) | (word >>> (32 - by))

/**
 * Longest match found between two stretches of samples first … end−1 that hold the same values in the same order,
 * more than `limit` of them changing from the sample before (a constant repeats itself without being a copy).
 * A rolling hash of 20 samples (each turned by its place, all of them xored) finds candidates, which are then compared
 * sample by sample.
 * @returns null when there is none; ties and shorter matches are not listed
 */
export function findRepeatedBlock(
  samples: Int16Array | Float32Array,
  first: number,
  end: number,
  limit: number,
): RepeatedBlock | null {
  if (end - first < 2 * GRAM) return null
  const words =
    samples instanceof Int16Array ? samples : new Int32Array(samples.buffer, samples.byteOffset, samples.length)
  anchors.fill(-1)
  let hash = 0
  for (let k = first; k < first + GRAM - 1; k++) hash = turned(hash, 1) ^ words[k]!
  let skip = first
  let due = first
  let best: RepeatedBlock | null = null
  let leaving = 0
  for (let start = first; start + GRAM <= end; start++) {
    hash = turned(hash, 1) ^ words[start + GRAM - 1]! ^ turned(leaving, GRAM)
    leaving = words[start]!
    const slot = (Math.imul(hash, 0x9e3779b1) >>> 20) & (TABLE - 1)
    // The hash first: it differs almost always, and may be one of an earlier record, which has no anchor then.
    if (hashes[slot] === hash && anchors[slot]! >= 0 && start >= skip) {
      const found = extend(words, anchors[slot]!, start, first, end)
      if (found !== null && found.changes > limit && (best === null || found.length > best.length)) {
        best = { first: found.first, at: found.at, length: found.length }
        skip = found.at + found.length
      }
    }
    if (start !== due) continue
    due += STRIDE
    anchors[slot] = start
    hashes[slot] = hash
  }
  return best
}

/** The match around samples a and b (a < b), and how many of its samples differ from the one before. */
function extend(
  words: Int16Array | Int32Array,
  a: number,
  b: number,
  first: number,
  end: number,
): (RepeatedBlock & { changes: number }) | null {
  let before = 0
  while (a - before > first && words[a - before - 1] === words[b - before - 1]) before++
  let after = 0
  let changes = 0
  while (b + after < end && words[a + after] === words[b + after]) after++
  if (after === 0) return null
  for (let i = 1 - before; i < after; i++) if (words[b + i] !== words[b + i - 1]) changes++
  return { first: a - before, at: b - before, length: before + after, changes }
}
