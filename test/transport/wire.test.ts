import { fc } from '../support/fast-check.ts'
import { describe, expect, it } from 'vitest'
import { decodeFrame, encodeFrame } from '#shared/contract/wire.ts'

const samples = fc.oneof(
  fc.float32Array(),
  fc.float64Array(),
  fc.int16Array(),
  fc.uint8Array(),
  fc.int32Array(),
  fc.uint16Array(),
  fc.uint32Array(),
)
const plain = fc.jsonValue().map((value) => JSON.parse(JSON.stringify(value)) as unknown)
const message = fc.letrec((tie) => ({
  node: fc.oneof(
    { maxDepth: 4 },
    plain,
    samples,
    fc.array(tie('node'), { maxLength: 4 }),
    fc.dictionary(
      fc.string().filter((key) => key !== '__proto__'),
      tie('node'),
      { maxKeys: 4, noNullPrototype: true },
    ),
  ),
})).node

/** A frame of an empty message with the given list of places. */
const hostile = (places: unknown) => {
  const json = new TextEncoder().encode(JSON.stringify([{}, places]))
  const bytes = new Uint8Array(Math.ceil((4 + json.length) / 8) * 8 + 8)
  new DataView(bytes.buffer).setUint32(0, json.length, true)
  bytes.set(json, 4)
  return () => decodeFrame(bytes)
}

describe('frames of the WebSocket', () => {
  it('bring back what was put in, arrays bit for bit', () => {
    fc.assert(
      fc.property(message, (value) => {
        expect(decodeFrame(encodeFrame(value))).toEqual(value)
      }),
    )
  })

  it('bring arrays back from memory that is not aligned, as pooled buffers are', () => {
    fc.assert(
      fc.property(samples, fc.integer({ min: 0, max: 9 }), (array, shift) => {
        const frame = encodeFrame({ array })
        if (typeof frame === 'string') throw new TypeError('an array makes a binary frame')
        const pool = new Uint8Array(frame.length + 16)
        pool.set(frame, shift)
        expect(decodeFrame(pool.subarray(shift, shift + frame.length))).toEqual({ array })
      }),
    )
  })

  it('carry views of larger memory without the rest of it', () => {
    const large = new Float32Array(1_000_000)
    const frame = encodeFrame({ view: large.subarray(500_000, 500_010) })
    expect(frame.length).toBeLessThan(200)
  })

  it('reject any other bytes with an error, never with a crash or a wrong array', () => {
    fc.assert(
      fc.property(fc.uint8Array({ maxLength: 200 }), (bytes) => {
        try {
          decodeFrame(bytes)
        } catch (error) {
          expect(error).toBeInstanceOf(Error)
        }
      }),
    )
  })

  it('reject a damaged frame or read another message, but never reach past it or into a prototype', () => {
    const frame = encodeFrame({ a: new Float32Array([1, 2, 3]), b: { c: new Int16Array([4]) } }) as Uint8Array
    fc.assert(
      fc.property(fc.nat(frame.length - 1), fc.nat(255), (at, value) => {
        const damaged = frame.slice()
        damaged[at] = value
        try {
          decodeFrame(damaged)
        } catch (error) {
          expect(error).toBeInstanceOf(Error)
        }
        expect(Object.prototype).not.toHaveProperty('a')
      }),
    )
    expect(hostile([['f32', 0, 2, '__proto__', 'x']])).toThrow(TypeError)
    expect(hostile([['f32', 0, 2, 'constructor']])).toThrow(TypeError)
    expect(hostile([['f32', 0, 3]])).toThrow(RangeError)
    expect(hostile([['f32', -4, 2]])).toThrow(RangeError)
    expect(hostile([['f64', 2 ** 40, 1]])).toThrow(RangeError)
    expect(hostile([['toString', 0, 1]])).toThrow(TypeError)
    expect(hostile([null])).toThrow(TypeError)
  })
})
