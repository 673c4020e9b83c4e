import { fc } from '../support/fast-check.ts'
import { describe, expect, it } from 'vitest'
import { type ParseOutcome, ResponseParser, type UnitKind } from '#main/rig/protocol/response-parser.ts'
import { crc32 } from '#main/core/crc32.ts'
import { block } from './support/fake-instrument.ts'

const LIMITS = { maxBlockBytes: 4096 }

function bytes(text: string): Uint8Array {
  return Buffer.from(text, 'latin1')
}

/** Feeds a stream cut at the given places; answers with the outcome and the bytes left over. */
function feed(
  stream: Uint8Array,
  cuts: readonly number[],
  shape: readonly UnitKind[],
  limits: { maxBlockBytes: number; exactBlockBytes?: number } = LIMITS,
): { outcome: ParseOutcome | null; rest: Uint8Array } {
  const parser = new ResponseParser(shape, limits)
  const places = [...new Set(cuts.map((cut) => cut % (stream.length + 1)))].sort((a, b) => a - b)
  let start = 0
  for (const end of [...places, stream.length]) {
    const outcome = parser.push(stream.subarray(start, end))
    if (outcome?.kind === 'message') return { outcome, rest: stream.subarray(start + outcome.consumed) }
    if (outcome !== null) return { outcome, rest: new Uint8Array(0) }
    start = end
  }
  return { outcome: null, rest: new Uint8Array(0) }
}

/** The grammar once more, on the whole stream at once, as regular expressions would have it. */
function oracle(stream: Uint8Array, maxBlockBytes: number): Uint8Array | null {
  const text = Buffer.from(stream).toString('latin1')
  const header = /^#([1-9])/.exec(text)
  if (!header) return null
  const digits = Number(header[1])
  const length = text.slice(2, 2 + digits)
  if (length.length !== digits || !/^\d+$/.test(length) || Number(length) > maxBlockBytes) return null
  const end = 2 + digits + Number(length)
  return text[end] === '\n' ? stream.subarray(2 + digits, end) : null
}

const cuts = fc.array(fc.nat(), { maxLength: 12 })

describe('ResponseParser', () => {
  // Check value 60: IEEE 488.2 8.7.9, 2000 bytes are announced as #42000.
  it('reads a block of 2000 bytes after #42000', () => {
    const data = Uint8Array.from({ length: 2000 }, (_, i) => i & 0xff)
    const stream = Buffer.concat([bytes('#42000'), data, bytes('\n')])
    const { outcome } = feed(stream, [], ['block'])
    expect(outcome).toEqual({ kind: 'message', units: [data], consumed: 2007 })
  })

  it('reads the block of the standard example #15Hello and an empty one', () => {
    expect(feed(bytes('#15Hello\n'), [], ['block']).outcome).toMatchObject({
      units: [bytes('Hello')].map((b) => Uint8Array.from(b)),
    })
    expect(feed(bytes('#10\n'), [], ['block']).outcome).toMatchObject({ units: [new Uint8Array(0)] })
  })

  // Check value 61: SCPI-1999 Volume 2, 21.8.
  it('keeps a quoted text whole, with separators and doubled quotes inside', () => {
    const line = '-350,"Queue overflow";0,"No error";-113,"Undefined ""header"";FOO:BAR?"\n'
    expect(feed(bytes(line), [], ['text', 'text', 'text']).outcome).toMatchObject({
      units: ['-350,"Queue overflow"', '0,"No error"', '-113,"Undefined ""header"";FOO:BAR?"'],
    })
  })

  it('gives the same messages however the stream is cut', () => {
    const text = fc.stringMatching(/^[!#-:<-~]{0,30}$/)
    const unit = fc.oneof(
      text.map((value) => ({ kind: 'text' as const, value, sent: bytes(value) })),
      fc.uint8Array({ maxLength: 300 }).map((value) => ({ kind: 'block' as const, value, sent: block(value) })),
    )
    const message = fc.array(unit, { minLength: 1, maxLength: 4 })
    fc.assert(
      fc.property(fc.array(message, { minLength: 1, maxLength: 5 }), cuts, (messages, cutList) => {
        let stream: Uint8Array = Buffer.concat(
          messages.flatMap((units) => [
            ...units.flatMap((part, i) => (i === 0 ? [part.sent] : [bytes(';'), part.sent])),
            bytes('\n'),
          ]),
        )
        for (const units of messages) {
          const { outcome, rest } = feed(
            stream,
            cutList,
            units.map((part) => part.kind),
          )
          expect(outcome?.kind).toBe('message')
          if (outcome?.kind !== 'message') return
          outcome.units.forEach((found, i) => {
            const sent = units[i]?.value
            if (typeof found === 'string') expect(found).toBe(sent)
            else expect(Buffer.compare(found, sent as Uint8Array)).toBe(0)
          })
          stream = rest
        }
        expect(stream.length).toBe(0)
      }),
      { numRuns: 300 },
    )
  })

  it('finds a block in rubbish only where the grammar has one', () => {
    // Bytes drawn so that headers, digits and line ends are frequent.
    const byte = fc.oneof(
      fc.constantFrom(0x23, 0x30, 0x31, 0x32, 0x33, 0x0a, 0x0d, 0x3b),
      fc.integer({ min: 0, max: 255 }),
    )
    const noise = fc.array(byte, { maxLength: 80 }).map((list) => Uint8Array.from(list))
    const nearly = fc.tuple(fc.uint8Array({ maxLength: 20 }), fc.nat(30), fc.nat(255)).map(([data, at, value]) => {
      const stream = Uint8Array.from(Buffer.concat([block(data), bytes('\n')]))
      stream[at % stream.length] = value
      return stream
    })
    let blocks = 0
    fc.assert(
      fc.property(fc.oneof(noise, nearly), cuts, (stream, cutList) => {
        const { outcome } = feed(stream, cutList, ['block'], { maxBlockBytes: 64 })
        const expected = oracle(stream, 64)
        if (outcome?.kind === 'message') {
          blocks += 1
          expect(expected).not.toBeNull()
          expect(Buffer.compare(outcome.units[0] as Uint8Array, expected as Uint8Array)).toBe(0)
        } else expect(expected).toBeNull()
      }),
      { numRuns: 3000 },
    )
    expect(blocks).toBeGreaterThan(50)
  })

  it('takes any stream against any shape without throwing, within its memory', () => {
    const shape = fc.array(fc.constantFrom<UnitKind>('text', 'block'), { minLength: 1, maxLength: 4 })
    fc.assert(
      fc.property(fc.uint8Array({ maxLength: 400 }), cuts, shape, (stream, cutList, kinds) => {
        const { outcome } = feed(stream, cutList, kinds, { maxBlockBytes: 100 })
        if (outcome?.kind === 'message') expect(outcome.units.length).toBe(kinds.length)
      }),
      { numRuns: 2000 },
    )
  })

  it('never passes a damaged block whose checksum is compared', () => {
    fc.assert(
      fc.property(
        fc.uint8Array({ minLength: 1, maxLength: 200 }),
        fc.nat(),
        fc.integer({ min: 1, max: 255 }),
        (data, at, flip) => {
          const stream = Uint8Array.from(Buffer.concat([block(data), bytes('\n')]))
          const place = at % stream.length
          stream[place] = (stream[place] ?? 0) ^ flip
          const { outcome } = feed(stream, [], ['block'], { maxBlockBytes: 1000, exactBlockBytes: data.length })
          if (outcome?.kind !== 'message') return
          expect(crc32(outcome.units[0] as Uint8Array)).not.toBe(crc32(data))
        },
      ),
      { numRuns: 1000 },
    )
  })

  it.each([
    ['#0abc\n', ['block'], 'indefinite'],
    ['#A12\n', ['block'], 'header'],
    ['#2x4\n', ['block'], 'length'],
    ['#3999', ['block'], 'more than'],
    ['#13abcd\n', ['block'], 'instead of a line end'],
    ['12\n', ['block'], 'expected'],
    ['1;2\n', ['text'], 'more values'],
    ['1\n', ['text', 'text'], '1 of 2'],
    ['#11x\n', ['block', 'text'], '1 of 2'],
    ['"open\n', ['text'], 'closed'],
    ['a\rb\n', ['text'], 'carriage return'],
    ['caf\xe9\n', ['text'], 'E9h'],
  ] as const)('refuses %j', (stream, shape, words) => {
    const { outcome } = feed(bytes(stream), [], [...shape], { maxBlockBytes: 64 })
    expect(outcome?.kind).toBe('malformed')
    if (outcome?.kind === 'malformed') expect(outcome.reason).toContain(words)
  })

  it('refuses another length than the one that is due at the header already', () => {
    const { outcome } = feed(bytes('#3200'), [], ['block'], { maxBlockBytes: 4096, exactBlockBytes: 202 })
    expect(outcome).toEqual({ kind: 'malformed', reason: 'the block announces 200 bytes where 202 are due' })
  })

  it('gives up a line that never ends', () => {
    const parser = new ResponseParser(['text'], { maxBlockBytes: 0 })
    expect(parser.push(new Uint8Array(8192).fill(0x41))).toBeNull()
    expect(parser.push(new Uint8Array(1).fill(0x41))).toMatchObject({ kind: 'malformed' })
  })

  it('takes a carriage return before the line end of a text, but none after a block', () => {
    expect(feed(bytes('12\r\n'), [], ['text']).outcome).toMatchObject({ units: ['12'] })
    expect(feed(bytes('#11x\r\n'), [], ['block']).outcome?.kind).toBe('malformed')
  })
})
