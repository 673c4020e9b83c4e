/** INPut, SENSe, TRIGger, FORMat and data subsystems (SCPI-1999 Volume 2), and DIAGnostic:DATA:CRC?. */
import type { AcquisitionSettings } from './acquisition.ts'
import { complete, reset } from './commands-common.ts'
import { LIMITS, type Command, type Context, type Pending, type Response, type Settings } from './context.ts'
import { asciiData, binaryData, crc32, type DataFormat } from './data-format.ts'
import {
  askedNumber,
  booleanOf,
  choiceOf,
  formatReal,
  numberOf,
  onlyParameter,
  type NumberLimits,
} from './parameters.ts'
import type { Parameter } from './program-parser.ts'
import { ScpiError } from './scpi-error.ts'

type Channel = 'CH1' | 'CH2'
type NumberKey = 'rangeV' | 'stepS' | 'points' | 'offset' | 'levelV' | 'delayS' | 'filterHz'

/** A record taken with other settings is stale (−230) from here on. */
function change(context: Context, changes: Partial<Settings>): void {
  context.settings = { ...context.settings, ...changes }
}

function numberSetting(pattern: string, key: NumberKey, limits: NumberLimits): Command {
  return {
    pattern,
    set: (context, parameters) => {
      change(context, { [key]: numberOf(onlyParameter(parameters), limits) })
    },
    query: (context, parameters) => askedNumber(parameters, context.settings[key], limits),
  }
}

function booleanSetting(pattern: string, key: 'filterOn' | 'inputOn'): Command {
  return {
    pattern,
    set: (context, parameters) => {
      change(context, { [key]: booleanOf(onlyParameter(parameters)) })
    },
    query: (context) => (context.settings[key] ? '1' : '0'),
  }
}

function choiceSetting(pattern: string, key: 'source' | 'slope' | 'coupling', choices: readonly string[]): Command {
  return {
    pattern,
    set: (context, parameters) => {
      change(context, { [key]: choiceOf(onlyParameter(parameters), choices) })
    },
    query: (context) => context.settings[key],
  }
}

function acquisitionSettings(settings: Settings): AcquisitionSettings {
  const { rangeV, stepS, points, offset, source, levelV, slope, delayS } = settings
  return {
    rangeV,
    stepS,
    points,
    offset,
    source,
    levelV,
    slope,
    delayS,
    filterHz: settings.filterOn ? settings.filterHz : null,
    connected: settings.inputOn && settings.coupling === 'DC',
  }
}

function initiate(context: Context): void {
  const settings = acquisitionSettings(context.settings)
  if (-settings.offset > settings.points) throw new ScpiError(-221, 'more pre-trigger samples than samples')
  context.acquisition.initiate(settings, context.now())
}

function dataOf(context: Context, channel: Channel): Response {
  const { acquisition, settings } = context
  const { record } = acquisition
  const now = acquisitionSettings(settings)
  if (!record || Object.entries(record.settings).some(([key, value]) => now[key as keyof typeof now] !== value))
    throw new ScpiError(-230)
  const codes = channel === 'CH2' && record.second !== null ? record.second : record.codes
  if (settings.format === 'ASC') return asciiData({ ...record, codes })
  const bytes = binaryData({ ...record, codes }, settings.format, settings.swapped)
  context.lastCrc = crc32(bytes)
  return context.blockOf(bytes)
}

/** FETCh? waits for a record that is on its way, but not for a trigger that can only come over this same link. */
function fetch(context: Context, channel: Channel): Response | Pending {
  if (complete(context)) return dataOf(context, channel)
  if (context.acquisition.waitsForBus) throw new ScpiError(-214)
  return { ready: () => complete(context), answer: () => dataOf(context, channel), what: 'FETCh?' }
}

function read(context: Context): Response | Pending {
  if (context.settings.source === 'BUS') throw new ScpiError(-214)
  context.acquisition.abort()
  initiate(context)
  return fetch(context, 'CH1')
}

function configure(context: Context, parameters: readonly Parameter[]): void {
  if (parameters.length > 2) throw new ScpiError(-108)
  const [range] = parameters
  const rangeV = range ? numberOf(range, LIMITS.range) : LIMITS.range.initial
  const { format, swapped } = context.settings
  reset(context)
  change(context, { rangeV, format, swapped })
}

function formatOf(parameters: readonly Parameter[]): DataFormat {
  const [type, length] = parameters
  if (!type) throw new ScpiError(-109)
  if (parameters.length > 2) throw new ScpiError(-108)
  const name = choiceOf(type, ['ASCii', 'INTeger', 'REAL'])
  const bits = length === undefined ? null : length.kind === 'number' ? length.value : Number.NaN
  if (name === 'ASC' && (bits === null || bits === 0)) return 'ASC'
  if (name === 'INT' && (bits === null || bits === 16)) return 'INT,16'
  if (name === 'REAL' && (bits === null || bits === 32)) return 'REAL,32'
  throw new ScpiError(-224)
}

/** A channel there is; its name may come as a word or as a string. */
function channelOf({ acquisition }: Context, parameters: readonly Parameter[]): Channel {
  const name = onlyParameter(parameters)
  if (name.kind !== 'word' && name.kind !== 'string') throw new ScpiError(-104)
  const text = name.text.toUpperCase()
  if (text !== 'CH1' && (text !== 'CH2' || !acquisition.hasSecond)) throw new ScpiError(-224, name.text)
  return text
}

export const MEASURE_COMMANDS: readonly Command[] = [
  booleanSetting('INPut[:STATe]', 'inputOn'),
  choiceSetting('INPut:COUPling', 'coupling', ['DC', 'GND']),
  booleanSetting('INPut:FILTer[:LPASs][:STATe]', 'filterOn'),
  numberSetting('INPut:FILTer[:LPASs]:FREQuency', 'filterHz', LIMITS.filter),
  numberSetting('[SENSe:]VOLTage[:DC]:RANGe[:UPPer]', 'rangeV', LIMITS.range),
  numberSetting('[SENSe:]SWEep:TINTerval', 'stepS', LIMITS.step),
  numberSetting('[SENSe:]SWEep:POINts', 'points', LIMITS.points),
  numberSetting('[SENSe:]SWEep:OFFSet:POINts', 'offset', LIMITS.offset),
  {
    pattern: '[SENSe:]SWEep:TIME',
    query: ({ settings }) => formatReal(settings.stepS * settings.points),
  },
  choiceSetting('TRIGger[:SEQuence]:SOURce', 'source', ['IMMediate', 'BUS', 'INTernal', 'EXTernal']),
  numberSetting('TRIGger[:SEQuence]:LEVel', 'levelV', LIMITS.level),
  choiceSetting('TRIGger[:SEQuence]:SLOPe', 'slope', ['POSitive', 'NEGative', 'EITHer']),
  numberSetting('TRIGger[:SEQuence]:DELay', 'delayS', LIMITS.delay),
  {
    pattern: 'TRIGger[:SEQuence][:IMMediate]',
    set: (context) => {
      if (!context.acquisition.trigger('any', context.now())) throw new ScpiError(-211)
    },
  },
  {
    // Wired to the contact of an input device and to the external trigger.
    pattern: 'OUTPut:TTLTrg:IMMediate',
    set: (context) => {
      const at = context.now()
      context.acquisition.trigger('EXT', at)
      context.pulsed(at)
    },
  },
  {
    pattern: 'INITiate[:IMMediate][:ALL]',
    set: initiate,
  },
  {
    pattern: 'INITiate:CONTinuous',
    set: (context, parameters) => {
      const { acquisition } = context
      acquisition.continuous = booleanOf(onlyParameter(parameters))
      if (acquisition.continuous && acquisition.state === 'idle') initiate(context)
    },
    query: (context) => (context.acquisition.continuous ? '1' : '0'),
  },
  {
    pattern: 'ABORt',
    set: (context) => {
      context.acquisition.abort()
      if (context.acquisition.continuous) initiate(context)
    },
  },
  {
    pattern: 'FORMat[:DATA]',
    set: (context, parameters) => {
      context.settings = { ...context.settings, format: formatOf(parameters) }
    },
    query: (context) => (context.settings.format === 'ASC' ? 'ASC,0' : context.settings.format),
  },
  {
    pattern: 'FORMat:BORDer',
    set: (context, parameters) => {
      const order = choiceOf(onlyParameter(parameters), ['NORMal', 'SWAPped'])
      context.settings = { ...context.settings, swapped: order === 'SWAP' }
    },
    query: (context) => (context.settings.swapped ? 'SWAP' : 'NORM'),
  },
  { pattern: 'CONFigure[:VOLTage][:DC]', set: configure },
  {
    pattern: 'MEASure[:VOLTage][:DC]',
    query: (context, parameters) => {
      configure(context, parameters)
      return read(context)
    },
  },
  { pattern: 'FETCh[:VOLTage][:DC]', query: (context) => fetch(context, 'CH1') },
  { pattern: 'READ[:VOLTage][:DC]', query: read },
  {
    pattern: 'TRACe[:DATA]',
    query: (context, parameters) => {
      return fetch(context, channelOf(context, parameters))
    },
  },
  { pattern: 'TRACe:CATalog', query: ({ acquisition }) => (acquisition.hasSecond ? '"CH1","CH2"' : '"CH1"') },
  {
    pattern: 'TRACe:POINts',
    query: (context, parameters) => {
      channelOf(context, parameters)
      return String(context.acquisition.record?.codes.length ?? 0)
    },
  },
  {
    pattern: 'DIAGnostic:DATA:CRC',
    query: (context) => {
      if (context.lastCrc === null) throw new ScpiError(-230)
      return String(context.lastCrc)
    },
  },
]
