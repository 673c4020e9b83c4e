/**
 * Random byte streams against everything that reads what a rig sends: header lists, blocks, whole handshakes. Each stream
 * has a limit of its own in processor time, and what is accepted must be true.
 */
import type { Clock } from '#main/core/ports.ts'
import { introduce } from '#main/rig/api/handshake.ts'
import { ScpiSession } from '#main/rig/api/scpi-session.ts'
import { RIG_TIMINGS } from '#main/rig/api/timings.ts'
import { CRC_HEADER, NEEDED_HEADERS } from '#main/rig/protocol/commands.ts'
import { hasHeader, parseHeaderList } from '#main/rig/protocol/headers.ts'
import { ResponseParser, type UnitKind } from '#main/rig/protocol/response-parser.ts'
import { AppError } from '#shared/domain/errors.ts'
import { seededRandom } from '#shared/domain/seeded-random.ts'
import { FAKE_HEADERS, FakeInstrument } from '../rig/support/fake-instrument.ts'

/** Of one stream, ms of this thread's processor time from its first byte read to the verdict. */
export const STREAM_LIMIT_MS = 250

export interface FuzzReport {
  readonly seed: number
  readonly streams: number
  /** Streams that gave something, and streams that were refused. */
  readonly accepted: number
  readonly refused: number
  readonly longestMs: number
}

type Next = () => number
/** Reads a stream that is made already; whether it was accepted. */
type Reader = () => boolean | Promise<boolean>
const below = (next: Next, n: number): number => Math.floor(n * next())
const pick = <T>(next: Next, from: readonly T[]): T => from[below(next, from.length)] as T

/** Five in ten streams are header lists, four blocks and one a handshake. Throws with seed and number of a stream that fails. */
export async function fuzz(streams: number, seed: number): Promise<FuzzReport> {
  const counts = { accepted: 0, refused: 0 }
  let longestMs = 0
  for (let n = 0; n < streams; n++) {
    const next = seededRandom(seed + 7919 * n)
    const read = n % 10 < 5 ? headers(next) : n % 10 < 9 ? block(next) : handshake(next)
    const before = process.threadCpuUsage()
    let accepted: boolean
    try {
      accepted = await read()
    } catch (error) {
      throw new Error(`stream ${n} of seed ${seed}: ${String(error)}`, { cause: error })
    }
    const { user, system } = process.threadCpuUsage(before)
    const ms = (user + system) / 1000
    longestMs = Math.max(longestMs, ms)
    if (ms > STREAM_LIMIT_MS) throw new Error(`stream ${n} of seed ${seed} took ${ms.toFixed(0)} ms`)
    counts[accepted ? 'accepted' : 'refused'] += 1
  }
  return { seed, streams, ...counts, longestMs }
}

const PIECES = [
  '[',
  ']',
  ':',
  '[:',
  '?',
  '\n',
  '/qonly/',
  '/nquery/',
  '#',
  '<n>',
  '*',
  ' ',
  '1',
  'A',
  'a',
  '\r\n',
] as const
const NAMES = ['SENSe', 'VOLTage', 'DC', 'RANGe', 'UPPer', 'SWEep', 'POINts', 'FETCh', 'SENS', 'VOLT', 'SWE'] as const

/** True lists with damage, lists of pieces that belong there, and rubbish; up to 64 kB. */
function headers(next: Next): Reader {
  const kind = below(next, 3)
  let text = ''
  if (kind === 0) text = Buffer.from(damaged(Buffer.from(FAKE_HEADERS.join('\n')), next)).toString('latin1')
  else {
    const length = 2 ** (next() < 0.01 ? 16 : 1 + 10 * next())
    const repeated = next() < 0.5 ? Array.from({ length: 1 + below(next, 6) }, () => part(next, kind)).join('') : ''
    while (text.length < length) text += repeated === '' ? part(next, kind) : repeated
  }
  return () => {
    const list = parseHeaderList(text)
    return NEEDED_HEADERS.filter((header) => hasHeader(list, header)).length > 0 || hasHeader(list, CRC_HEADER)
  }
}

function part(next: Next, kind: number): string {
  if (kind === 2 && next() < 0.3) return String.fromCharCode(below(next, 256))
  return next() < 0.5 ? pick(next, PIECES) : pick(next, NAMES)
}

/** One of: a bit turned, bytes lost, doubled, put in, or cut off. */
function damaged(message: Uint8Array, next: Next): Uint8Array {
  const bytes = Array.from(message)
  for (let n = below(next, 4); n > 0; n--) {
    const at = below(next, bytes.length + 1)
    const length = 1 + below(next, 12)
    const kind = below(next, 5)
    if (kind === 0 && at < bytes.length) bytes[at] = (bytes[at] ?? 0) ^ (1 << below(next, 8))
    else if (kind === 1) bytes.splice(at, length)
    else if (kind === 2) bytes.splice(at, 0, ...bytes.slice(at, at + length))
    else if (kind === 3) bytes.splice(at, 0, ...Array.from({ length }, () => below(next, 256)))
    else bytes.length = at
  }
  return Uint8Array.from(bytes)
}

/** A message of text and blocks, damaged and cut anywhere: what comes out as a block is what stands in the stream. */
function block(next: Next): Reader {
  const shape: UnitKind[] = Array.from({ length: 1 + below(next, 3) }, () => (next() < 0.5 ? 'block' : 'text'))
  const data = Buffer.from(Array.from({ length: below(next, 80) }, () => below(next, 256)))
  const digits = String(data.length)
  const units = shape.map((kind) =>
    kind === 'text'
      ? Buffer.from(pick(next, ['0', '1.5E-3', '"a;b"', '']))
      : Buffer.concat([Buffer.from(`#${digits.length}${digits}`), data]),
  )
  const joined = Buffer.concat(units.flatMap((unit, i) => (i === 0 ? [unit] : [Buffer.from(';'), unit])))
  const stream = damaged(Buffer.concat([joined, Buffer.from('\n')]), next)
  const parser = new ResponseParser(shape, {
    maxBlockBytes: 200,
    ...(next() < 0.5 ? { exactBlockBytes: data.length } : {}),
  })
  return () => {
    for (let at = 0; at < stream.length;) {
      const size = 1 + below(next, 20)
      const chunk = stream.subarray(at, at + size)
      const outcome = parser.push(chunk)
      at += chunk.length
      if (outcome === null) continue
      if (outcome.kind === 'malformed') return false
      const end = at - chunk.length + outcome.consumed
      expectBlocks(outcome.units, shape, Buffer.from(stream.subarray(0, end)))
      return true
    }
    return false
  }
}

/** Read again in the plainest way: from the message's beginning, each block by the length in front of it. */
function expectBlocks(units: readonly (string | Uint8Array)[], shape: readonly UnitKind[], message: Buffer): void {
  let at = 0
  for (const [i, kind] of shape.entries()) {
    const unit = units[i]
    if (kind === 'block') {
      const digits = Number(String.fromCharCode(message[at + 1] ?? 0))
      const length = Number(message.toString('latin1', at + 2, at + 2 + digits))
      const content = message.subarray(at + 2 + digits, at + 2 + digits + length)
      if (!(unit instanceof Uint8Array) || Buffer.compare(content, unit) !== 0) throw new Error('a false block')
      at += 2 + digits + length
    } else {
      let quoted = false
      while (quoted || (message[at] !== 0x3b && message[at] !== 0x0a)) {
        if (message[at] === 0x22) quoted = !quoted
        at += 1
      }
    }
    if (message[at] !== (i === shape.length - 1 ? 0x0a : 0x3b)) throw new Error('an end in the wrong place')
    at += 1
  }
  if (at !== message.length) throw new Error('bytes that are not of the message')
}

/** Time passes only by waiting; what is under way in memory arrives first. */
function waitingClock(): Clock {
  let now = 0
  return {
    now: () => now,
    iso: () => new Date(0).toISOString(),
    sleep: async (seconds, signal) => {
      await new Promise((resolve) => setImmediate(resolve))
      if (signal?.aborted === true) throw new AppError('cancelled', 'The work was cancelled.')
      now += seconds
    },
  }
}

const SILENT = { info: () => undefined, warn: () => undefined, error: () => undefined }

/** A handshake whose answers arrive damaged: true in the end, or refused by name. */
function handshake(next: Next): Reader {
  const instrument = new FakeInstrument()
  const share = 0.5 * next() ** 2
  instrument.garble = (message) => (next() < share ? [damaged(message, next)] : [message])
  const session = new ScpiSession(instrument.plug(), { clock: waitingClock(), log: SILENT, timings: RIG_TIMINGS })
  return async () => {
    try {
      const { identity, capabilities } = await introduce(session, RIG_TIMINGS)
      const found = JSON.stringify([identity, capabilities])
      const headers = parseHeaderList(FAKE_HEADERS.join('\n'))
      const truth = JSON.stringify([
        { manufacturer: 'Example', model: 'Recorder 1', serial: '0001', firmware: '1.0' },
        { headers, crc: true },
      ])
      if (found !== truth) throw new Error(`a false identity or header list: ${found}`)
      return true
    } catch (error) {
      if (!(error instanceof AppError) || !error.code.startsWith('rig-')) throw error
      return false
    } finally {
      await session.close()
    }
  }
}
