/** What commands act on, and the settings they change. */
import type { Acquisition, AcquisitionSettings } from './acquisition.ts'
import type { DataFormat } from './data-format.ts'
import type { NumberLimits } from './parameters.ts'
import type { Status } from './status.ts'
import type { Parameter } from './program-parser.ts'

/** Deepest record, samples, and fastest sampling. */
const MEMORY_POINTS = 4_000_000

export const LIMITS = {
  range: { unit: 'V', min: 0.001, max: 100, initial: 5 },
  step: { unit: 'S', min: 1e-7, max: 1, initial: 2e-5 },
  points: { unit: '', min: 1, max: MEMORY_POINTS, initial: 15_000, integer: true },
  offset: { unit: '', min: -MEMORY_POINTS, max: MEMORY_POINTS, initial: 0, integer: true },
  level: { unit: 'V', min: -100, max: 100, initial: 0 },
  delay: { unit: 'S', min: 0, max: 100, initial: 0 },
  filter: { unit: 'HZ', min: 10, max: 1e6, initial: 50_000 },
} as const satisfies Record<string, NumberLimits>

export interface Settings {
  rangeV: number
  stepS: number
  points: number
  offset: number
  source: AcquisitionSettings['source']
  levelV: number
  slope: AcquisitionSettings['slope']
  delayS: number
  filterOn: boolean
  filterHz: number
  inputOn: boolean
  coupling: 'DC' | 'GND'
  format: DataFormat
  swapped: boolean
}

/** Reset values (*RST). */
export function initialSettings(): Settings {
  return {
    rangeV: LIMITS.range.initial,
    stepS: LIMITS.step.initial,
    points: LIMITS.points.initial,
    offset: LIMITS.offset.initial,
    source: 'IMM',
    levelV: LIMITS.level.initial,
    slope: 'POS',
    delayS: LIMITS.delay.initial,
    filterOn: false,
    filterHz: LIMITS.filter.initial,
    inputOn: true,
    coupling: 'DC',
    format: 'ASC',
    swapped: false,
  }
}

export interface SerialSettings {
  baud: number
  bits: number
  parity: string
  stopBits: number
  pace: string
}

export type Response = string | Uint8Array
/** A command that cannot go on before something happened. */
export interface Pending {
  readonly ready: () => boolean
  readonly answer: () => Response | null
  /** It is answered even if the trigger system never comes to rest by itself: dropped by ABORt and *RST. */
  readonly what: string
}

export interface Context {
  readonly status: Status
  readonly acquisition: Acquisition
  readonly identity: string
  settings: Settings
  serial: SerialSettings
  /** *OPC was sent and its bit is still to come. */
  completionWanted: boolean
  /** CRC-32 of the data of the last block sent; null before the first. */
  lastCrc: number | null
  /** Data sent next are spoiled by a fault. */
  blockOf(bytes: Uint8Array): Uint8Array
  now(): number
  /** The trigger output was pulsed at this time. */
  pulsed(atS: number): void
  /** An earlier unit of the same message left an answer. */
  messageAvailable(): boolean
  headers(): string
}

export interface Command {
  readonly pattern: string
  readonly set?: (context: Context, parameters: readonly Parameter[]) => Pending | void
  readonly query?: (context: Context, parameters: readonly Parameter[]) => Response | Pending
  /** The answer has no length or end of its own, so nothing may be asked after it in the same message. */
  readonly indefinite?: boolean
}
