/** Typed arrays to and from little-endian blobs. */
import { endianness } from 'node:os'
import type { RawTrace, SampleFormat } from '#shared/domain/capture.ts'
import { AppError } from '#shared/domain/errors.ts'

type Numbers = Int16Array | Float32Array

const SWAP = endianness() === 'BE'

function swapped(bytes: Uint8Array, width: number): Buffer {
  const copy = Buffer.from(bytes)
  if (width === 2) return copy.swap16()
  return copy.swap32()
}

/** Bytes of the numbers, little-endian; shares memory with them where the machine allows it. */
export function toBlob(numbers: Numbers): Buffer {
  const bytes = Buffer.from(numbers.buffer as ArrayBuffer, numbers.byteOffset, numbers.byteLength)
  return SWAP ? swapped(bytes, numbers.BYTES_PER_ELEMENT) : bytes
}

/** Memory of its own, aligned and of the exact length, so that it can be transferred to another thread. */
function ownMemory(blob: Uint8Array, width: number): ArrayBuffer {
  if (blob.byteLength % width !== 0)
    throw new AppError('archive-damaged', `A stored blob of ${blob.byteLength} bytes does not hold whole numbers.`)
  const bytes = SWAP ? swapped(blob, width) : blob
  if (bytes.byteOffset === 0 && bytes.byteLength === bytes.buffer.byteLength && bytes.buffer instanceof ArrayBuffer)
    return bytes.buffer
  const copy = new ArrayBuffer(bytes.byteLength)
  new Uint8Array(copy).set(bytes)
  return copy
}

export function samplesOf(format: SampleFormat, blob: Uint8Array): RawTrace['samples'] {
  return format === 'int16' ? new Int16Array(ownMemory(blob, 2)) : new Float32Array(ownMemory(blob, 4))
}
