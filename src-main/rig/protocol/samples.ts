import { fromSpecial } from './numbers.ts'

/** FORMat:BORDer: `normal` sends the most significant byte first, `swapped` the least. */
export type ByteOrder = 'normal' | 'swapped'

export const BYTES_PER_SAMPLE = { int16: 2, real32: 4 } as const
/** FORMat:DATA INT,16: volts = code × full scale ÷ 32768. */
export const CODES_PER_FULL_SCALE = 32_768

/** FORM:DATA INT,16: ADC codes. The block's length is even; a copy in the machine's byte order. */
export function decodeInt16(block: Uint8Array, order: ByteOrder): Int16Array {
  if (block.length % 2 !== 0) throw new RangeError('A block of 16-bit codes has an even length.')
  const view = new DataView(block.buffer, block.byteOffset, block.length)
  const little = order === 'swapped'
  const samples = new Int16Array(block.length / 2)
  for (let i = 0; i < samples.length; i++) samples[i] = view.getInt16(2 * i, little)
  return samples
}

/** FORM:DATA REAL,32: volts (IEEE 754 single). SCPI's stand-ins for NaN and ±infinity become those. */
export function decodeReal32(block: Uint8Array, order: ByteOrder): Float32Array {
  if (block.length % 4 !== 0) throw new RangeError('A block of 32-bit reals has a length that is a multiple of 4.')
  const view = new DataView(block.buffer, block.byteOffset, block.length)
  const little = order === 'swapped'
  const samples = new Float32Array(block.length / 4)
  for (let i = 0; i < samples.length; i++) samples[i] = fromSpecial(view.getFloat32(4 * i, little))
  return samples
}

/** Samples that are no finite number: missing values. */
export function countMissing(samples: Float32Array): number {
  let missing = 0
  for (const sample of samples) if (!Number.isFinite(sample)) missing += 1
  return missing
}
