/** Program messages of the recording sequence: SCPI-1999 Volume 2 headers and IEEE 488.2 common commands only. */
import type { RecordSettings } from '#main/core/ports.ts'
import { formatNumber } from './numbers.ts'
import type { ByteOrder } from './samples.ts'

export const CLEAR = '*CLS'
export const IDENTIFY = '*IDN?'
export const SELF_TEST = '*TST?'
export const HEADERS = 'SYST:HELP:HEAD?'
export const NEXT_ERROR = 'SYST:ERR?'
export const ABORT = 'ABOR'
export const BUS_TRIGGER = '*TRG'
/** A pulse on the trigger output (SCPI-1999 Volume 2, OUTPut:TTLTrg; from memory). */
export const OUTPUT_PULSE = 'OUTP:TTLT:IMM'
export const PULSE_HEADER = 'OUTPut:TTLTrg:IMMediate'
/** Event register, operation condition and next error in one message: one round trip. */
export const ACQUISITION_STATE = '*ESR?;:STAT:OPER:COND?'
/**
 * Status and record in one message. Event and condition register both: an input that was clipped in the record before
 * too stays questionable without a new event.
 */
export const FETCH = 'FETC?'
/** Names of the records a rig keeps of one acquisition, and the second input's (SCPI-1999 Volume 2, TRACe). */
export const CHANNEL_LIST = 'TRAC:CAT?'
export const CHANNEL_LIST_HEADER = 'TRACe:CATalog?'
export const CHANNEL_DATA_HEADER = 'TRACe[:DATA]?'
export const SECOND_CHANNEL = 'CH2'
export const FETCH_SECOND = `TRAC? "${SECOND_CHANNEL}"`
export const BLOCK_CRC = 'DIAG:DATA:CRC?'
export const READ_BACK = 'SENS:VOLT:RANG:UPP?;:SENS:SWE:TINT?;:SENS:SWE:POIN?;:SENS:SWE:OFFS:POIN?'

/** *ESR? bit 0 (IEEE 488.2 11.5.1): every pending operation is complete. */
export const ESR_OPERATION_COMPLETE = 1
/** STATus:OPERation condition bits (SCPI-1999 Volume 2, 20.1). */
export const OPER_SETTLING = 1 << 1
export const OPER_RANGING = 1 << 2
export const OPER_SWEEPING = 1 << 3
export const OPER_MEASURING = 1 << 4
export const OPER_WAITING_TRIGGER = 1 << 5

/** "Data questionable": a remark about the record (the input was clipped), not a failure. */
export const DATA_QUESTIONABLE = -231

/** Headers without which the recording sequence cannot run. */
export const NEEDED_HEADERS = [
  '[SENSe:]VOLTage[:DC]:RANGe[:UPPer]',
  '[SENSe:]SWEep:TINTerval',
  '[SENSe:]SWEep:POINts',
  '[SENSe:]SWEep:OFFSet:POINts',
  'TRIGger[:SEQuence]:SOURce',
  'FORMat[:DATA]',
  'INITiate[:IMMediate][:ALL]',
  'FETCh[:VOLTage][:DC]?',
  'ABORt',
  'STATus:OPERation:CONDition?',
  'SYSTem:ERRor[:NEXT]?',
] as const
export const LEVEL_HEADERS = ['TRIGger[:SEQuence]:LEVel', 'TRIGger[:SEQuence]:SLOPe'] as const
export const BORDER_HEADER = 'FORMat:BORDer'
export const CONTINUOUS_HEADER = 'INITiate:CONTinuous'
export const CRC_HEADER = 'DIAGnostic:DATA:CRC?'

export interface AcquisitionCommands extends Omit<RecordSettings, 'transferLimitS' | 'triggerWaitS' | 'second'> {
  /** Null when the rig has no FORMat:BORDer; it then sends most significant bytes first. */
  readonly byteOrder: ByteOrder | null
  readonly continuousOff: boolean
}

const TRIGGER_SOURCES = { immediate: 'IMM', bus: 'BUS', level: 'INT', external: 'EXT' } as const

/** One program message per setting, so that a refused one spoils no other; the error queue tells afterwards. */
export function configureCommands(settings: AcquisitionCommands): string[] {
  const { trigger } = settings
  return [
    ABORT,
    CLEAR,
    ...(settings.continuousOff ? ['INIT:CONT OFF'] : []),
    `SENS:VOLT:RANG:UPP ${formatNumber(settings.rangeV)}`,
    `SENS:SWE:TINT ${formatNumber(1 / settings.sampleRateHz)}`,
    `SENS:SWE:POIN ${formatNumber(settings.points)}`,
    `SENS:SWE:OFFS:POIN ${formatNumber(settings.preTriggerPoints === 0 ? 0 : -settings.preTriggerPoints)}`,
    `TRIG:SOUR ${TRIGGER_SOURCES[trigger.source]}`,
    ...(trigger.source === 'level'
      ? [`TRIG:LEV ${formatNumber(trigger.levelV)}`, `TRIG:SLOP ${trigger.slope === 'rising' ? 'POS' : 'NEG'}`]
      : []),
    `FORM:DATA ${settings.transfer === 'int16' ? 'INT,16' : 'REAL,32'}`,
    ...(settings.byteOrder === null ? [] : [`FORM:BORD ${settings.byteOrder === 'normal' ? 'NORM' : 'SWAP'}`]),
  ]
}

/** Clears what earlier work left in the event registers, starts, and asks for the completion bit when it ends. */
export const ARM_COMMANDS = [CLEAR, 'INIT', '*OPC'] as const

export function programMessage(lines: readonly string[]): string {
  return lines.map((line) => `${line}\n`).join('')
}
