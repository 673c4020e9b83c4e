import type { Recording, RecordSettings } from '#main/core/ports.ts'
import type { RawTrace } from '#shared/domain/capture.ts'
import type { RigCapabilities } from '#shared/domain/rig.ts'
import { BLOCK_CRC, FETCH, FETCH_SECOND } from '../protocol/commands.ts'
import { crc32 } from '#main/core/crc32.ts'
import { parseInteger } from '../protocol/numbers.ts'
import {
  BYTES_PER_SAMPLE,
  type ByteOrder,
  CODES_PER_FULL_SCALE,
  countMissing,
  decodeInt16,
  decodeReal32,
} from '../protocol/samples.ts'
import type { ActualSettings } from './record-check.ts'
import { protocolError } from './rig-errors.ts'
import type { ScpiSession } from './scpi-session.ts'
import type { RigTimings } from './timings.ts'

/** What the rig was told and will do. */
export interface RecordAsked {
  readonly settings: RecordSettings
  readonly actual: ActualSettings
  readonly byteOrder: ByteOrder
}

/** Brings records over the link, and looks whether they are whole and new. */
export class RecordReader {
  readonly #deps: {
    readonly session: ScpiSession
    readonly capabilities: RigCapabilities
    readonly timings: RigTimings
  }
  /** Of the last record that was taken. */
  #lastBlock: Uint8Array | null = null

  constructor(deps: { session: ScpiSession; capabilities: RigCapabilities; timings: RigTimings }) {
    this.#deps = deps
  }

  /** The record that is ready. Rejects with `rig-protocol` for one that is damaged or was sent before. */
  async fetch({ settings, actual, byteOrder }: RecordAsked, stop: AbortSignal): Promise<Recording> {
    const block = await this.#fetched(FETCH, { settings, actual }, stop)
    this.#checkFresh(block)
    const second = settings.second === true ? await this.#fetched(FETCH_SECOND, { settings, actual }, stop) : null
    return {
      trace: traceOf(block, settings, actual, byteOrder),
      triggerIndex: actual.preTriggerPoints,
      second: second === null ? null : traceOf(second, settings, actual, byteOrder),
    }
  }

  async #fetched(
    question: string,
    { settings, actual }: Pick<RecordAsked, 'settings' | 'actual'>,
    stop: AbortSignal,
  ): Promise<Uint8Array> {
    const bytes = actual.points * BYTES_PER_SAMPLE[settings.transfer]
    const [block] = (await this.#deps.session.query([question], ['block'], {
      signal: stop,
      limits: { maxBlockBytes: bytes, exactBlockBytes: bytes },
      transferLimitS: settings.transferLimitS ?? this.#deps.timings.transferLimitS,
    })) as readonly [Uint8Array]
    await this.#checkBlock(block, stop)
    return block
  }

  /**
   * Noise makes every record different, so one that equals the record before it, byte for byte, is that record sent
   * again; no checksum tells. Records of one and the same value are let through: a dark input may well give them.
   */
  #checkFresh(block: Uint8Array): void {
    const last = this.#lastBlock
    this.#lastBlock = block
    if (last !== null && Buffer.compare(last, block) === 0 && !isConstant(block))
      throw protocolError('it sent the record before this one again, sample for sample')
  }

  async #checkBlock(block: Uint8Array, stop: AbortSignal): Promise<void> {
    if (!this.#deps.capabilities.crc) return
    const [text = ''] = await this.#deps.session.queryTexts([BLOCK_CRC], 1, { signal: stop })
    const expected = parseInteger(text)
    if (expected === null) throw protocolError(`"${text}" is not a checksum`)
    const found = crc32(block)
    if (found === expected) return
    this.#deps.session.markOutOfStep()
    throw protocolError(`the checksum of the block is ${hex(found)} where the rig sent ${hex(expected)}`)
  }
}

function traceOf(
  block: Uint8Array,
  { transfer }: RecordSettings,
  { sampleRateHz, rangeV }: ActualSettings,
  byteOrder: ByteOrder,
): RawTrace {
  const common = { sampleRateHz, offsetV: 0, rangeV }
  if (transfer === 'int16')
    return { format: 'int16', samples: decodeInt16(block, byteOrder), scaleV: rangeV / CODES_PER_FULL_SCALE, ...common }
  const samples = decodeReal32(block, byteOrder)
  const missing = countMissing(samples)
  if (missing > 0) throw protocolError(`${missing} of ${samples.length} samples are not numbers`)
  return { format: 'real32', samples, scaleV: 1, ...common }
}

/** Whether every sample of the block equals the first; four bytes hold one sample of either format, or two. */
function isConstant(block: Uint8Array): boolean {
  for (let i = 4; i < block.length; i++) if (block[i] !== block[i - 4]) return false
  return true
}

function hex(value: number): string {
  return `${value.toString(16).padStart(8, '0').toUpperCase()}h`
}
