/** A stretch of samples that repeats an earlier one exactly. Indices of the whole record. */
export interface RepeatedBlock {
  readonly first: number
  readonly at: number
  readonly length: number
}

/** Samples hashed together. */
const GRAM = 20
/**
 * Of every 30 places the first 5 are remembered and every fifth is looked up: whatever the distance between two copies,
 * one of 30 places is remembered in the first and looked up in the second, so that 49 samples are enough.
 */
const NEAR = 5
const PARTS = 6
/** Places that are remembered at most; fewer for short records, whose table is then cleared sooner. */
const TABLE = 32_768
const SMALLEST_TABLE = 1024

const anchors = new Int32Array(TABLE)
const hashes = new Int32Array(TABLE)

/** Bits moved up by `by` places, those that fall out coming back at the bottom. */
const turned = (word: number, by: number): number => (word << by) | (word >>> (32 - by))

/** Hash of the samples one place further on: each is turned once for every sample after it, all of them xored. */
const rolled = (hash: number, entering: number, leaving: number): number =>
  turned(hash, 1) ^ entering ^ turned(leaving, GRAM)

const slotOf = (hash: number, mask: number): number => (Math.imul(hash, 0x9e3779b1) >>> 17) & mask

/**
 * Longest match found between two stretches of samples first … end−1 that hold the same values in the same order,
 * more than `limit` of them changing from the sample before (a constant repeats itself without being a copy).
 * A rolling hash of 20 samples finds candidates, which are then compared sample by sample.
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
  let size = SMALLEST_TABLE
  while (size < TABLE && 2 * size < end - first) size *= 2
  const mask = size - 1
  anchors.fill(-1, 0, size)
  let hash = 0
  for (let k = first; k < first + GRAM - 1; k++) hash = rolled(hash, words[k]!, 0)
  let leaving = 0
  let skip = first
  let best: RepeatedBlock | null = null
  const last = end - GRAM
  for (let start = first, part = 0; start <= last; part = (part + 1) % PARTS) {
    const stop = Math.min(start + NEAR, last + 1)
    hash = rolled(hash, words[start + GRAM - 1]!, leaving)
    leaving = words[start]!
    const slot = slotOf(hash, mask)
    // The hash first: it differs almost always, and may be one of an earlier record, which has no anchor then.
    if (hashes[slot] === hash && anchors[slot]! >= 0 && start >= skip) {
      const found = extend(words, anchors[slot]!, start, first, end)
      if (found !== null && found.changes > limit && (best === null || found.length > best.length)) {
        best = { first: found.first, at: found.at, length: found.length }
        skip = found.at + found.length
      }
    }
    if (part === 0) {
      anchors[slot] = start
      hashes[slot] = hash
    }
    for (start++; start < stop; start++) {
      hash = rolled(hash, words[start + GRAM - 1]!, leaving)
      leaving = words[start]!
      if (part !== 0) continue
      const at = slotOf(hash, mask)
      anchors[at] = start
      hashes[at] = hash
    }
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
