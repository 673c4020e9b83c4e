/**
 * The loop that looks at the screen file, run in a worker thread so that it neither starves the process nor is starved
 * by it. What it sees goes into shared memory: first the changes, then the time up to which it has looked, so that a
 * reader who takes that time first misses nothing.
 */

/** Layout of the shared memory: words of 32 bits, then words of 64 bits. */
export const WORDS = { stop: 0, head: 1, failed: 2, looks: 3, codes: 4 } as const
export const RING = 4096
export const WORD_COUNT = WORDS.codes + RING
/** 64-bit words: the time looked up to, then the times of the ring; ns of `process.hrtime`. */
export const TIME_COUNT = 1 + RING

export interface WatchInput {
  readonly path: string
  readonly positions: readonly number[]
  readonly bytes: number
  readonly channels: readonly [number, number, number]
  readonly words: SharedArrayBuffer
  readonly times: SharedArrayBuffer
  /** Pause between two looks, ms. */
  readonly pauseMs: number
  readonly layout: { readonly words: typeof WORDS; readonly ring: number }
}

/**
 * Runs until it is told to stop. It is handed to the thread as text, so that it works the same from sources, in a test
 * and bundled; hence it refers to nothing outside of itself.
 */
export function watchLoop(input: WatchInput, fs: typeof import('node:fs')): void {
  const { path, positions, bytes, channels, pauseMs } = input
  const { words: at, ring } = input.layout
  const words = new Int32Array(input.words)
  const times = new BigInt64Array(input.times)
  const row = new Uint8Array(bytes)
  const file = fs.openSync(path, 'r')
  let seen = -1
  try {
    while (Atomics.load(words, at.stop) === 0) {
      const now = process.hrtime.bigint()
      let sum = 0
      for (const position of positions) {
        if (fs.readSync(file, row, 0, bytes, position) !== bytes) throw new Error('The screen file became shorter.')
        for (let i = 0; i < bytes; i += 4)
          sum += (row[i + channels[0]] ?? 0) + (row[i + channels[1]] ?? 0) + (row[i + channels[2]] ?? 0)
      }
      const code = Math.round((4 * sum) / (3 * bytes * positions.length))
      if (code !== seen) {
        seen = code
        const head = Atomics.load(words, at.head)
        Atomics.store(words, at.codes + (head % ring), code)
        Atomics.store(times, 1 + (head % ring), now)
        Atomics.store(words, at.head, head + 1)
      }
      Atomics.store(times, 0, now)
      Atomics.add(words, at.looks, 1)
      Atomics.wait(words, at.stop, 0, pauseMs)
    }
  } catch (error) {
    Atomics.store(words, at.failed, 1)
    throw error
  } finally {
    fs.closeSync(file)
  }
}
