import type { Recording, RecordSettings } from '#main/core/ports.ts'
import type { RigCapabilities } from '#shared/domain/rig.ts'
import { BLOCK_CRC, FETCH } from '../protocol/commands.ts'
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
    const bytes = actual.points * BYTES_PER_SAMPLE[settings.transfer]
    const [block] = (await this.#deps.session.query([FETCH], ['block'], {
      signal: stop,
      limits: { maxBlockBytes: bytes, exactBlockBytes: bytes },
      transferLimitS: settings.transferLimitS ?? this.#deps.timings.transferLimitS,
    })) as readonly [Uint8Array]
    await this.#checkBlock(block, stop)
    this.#checkFresh(block)
    const common = { sampleRateHz: actual.sampleRateHz, offsetV: 0, rangeV: actual.rangeV }
    const triggerIndex = actual.preTriggerPoints
    if (settings.transfer === 'int16') {
      const samples = decodeInt16(block, byteOrder)
      const scaleV = actual.rangeV / CODES_PER_FULL_SCALE
      return { trace: { format: 'int16', samples, scaleV, ...common }, triggerIndex }
    }
    const samples = decodeReal32(block, byteOrder)
    const missing = countMissing(samples)
    if (missing > 0) throw protocolError(`${missing} of ${samples.length} samples are not numbers`)
    return { trace: { format: 'real32', samples, scaleV: 1, ...common }, triggerIndex }
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

/** Whether every sample of the block equals the first; four bytes hold one sample of either format, or two. */
function isConstant(block: Uint8Array): boolean {
  for (let i = 4; i < block.length; i++) if (block[i] !== block[i - 4]) return false
  return true
}

function hex(value: number): string {
  return `${value.toString(16).padStart(8, '0').toUpperCase()}h`
}
