/** Time-outs and transfer times from byte counts. */

/** Bytes around the data of a block: `#`, digit, up to nine digits of length, NL. */
export const BLOCK_OVERHEAD_BYTES = 12

/** Time a block needs at a rate, s; 0 when the rate is unlimited or unknown. */
export function transferSeconds(dataBytes: number, bytesPerSecond: number | null): number {
  return bytesPerSecond === null ? 0 : (dataBytes + BLOCK_OVERHEAD_BYTES) / bytesPerSecond
}

/**
 * When a short answer is overdue, s: a fixed time for the instrument to think, plus twice what both directions need on
 * the link.
 */
export function answerSeconds(baseS: number, bytes: number, bytesPerSecond: number | null): number {
  return baseS + 2 * transferSeconds(bytes, bytesPerSecond)
}
