/** Ways to spoil one data block on its way to the host. */
import { random } from './optics/noise.ts'

export type BlockFault = 'noise-burst' | 'wrong-length' | 'flipped-bytes'

/** Length of the header of a definite block. */
function headerLength(block: Uint8Array): number {
  return 2 + ((block[1] as number) - 0x30)
}

/** A function that spoils one whole block (header and data); the same seed spoils alike. */
export function spoilerOf(fault: BlockFault, seed: number): (block: Uint8Array) => Uint8Array {
  const source = random(seed, 404)
  return { 'wrong-length': lose, 'flipped-bytes': flip, 'noise-burst': disturb }[fault]

  /** A stretch of the data is lost, as by an overrun of some buffer; the header still announces all of it. */
  function lose(block: Uint8Array): Uint8Array {
    const header = headerLength(block)
    const lost = Math.max(1, Math.floor((block.length - header) * 0.1))
    const at = header + Math.floor(source() * Math.max(1, block.length - header - lost))
    const shorter = new Uint8Array(block.length - lost)
    shorter.set(block.subarray(0, at))
    shorter.set(block.subarray(at + lost), at)
    return shorter
  }

  function flip(block: Uint8Array): Uint8Array {
    const header = headerLength(block)
    const flipped = Uint8Array.from(block)
    for (let i = 0; i < 5 && block.length > header; i++) {
      const at = header + Math.floor(source() * (block.length - header))
      flipped[at] = (flipped[at] as number) ^ (1 + Math.floor(source() * 255))
    }
    return flipped
  }

  /** Disturbance on the line in the middle of the answer: bytes that nobody sent. */
  function disturb(block: Uint8Array): Uint8Array {
    const burst = Uint8Array.from({ length: 40 }, () => Math.floor(source() * 256))
    const at = Math.floor(source() * block.length)
    const noisy = new Uint8Array(block.length + burst.length)
    noisy.set(block.subarray(0, at))
    noisy.set(burst, at)
    noisy.set(block.subarray(at), at + burst.length)
    return noisy
  }
}
