/** STATus and SYSTem subsystems (SCPI-1999 Volume 2, chapters 20 and 21). */
import type { Command, Context, SerialSettings } from './context.ts'
import { definiteBlock } from './data-format.ts'
import { askedNumber, choiceOf, numberOf, onlyParameter, type NumberLimits } from './parameters.ts'
import type { StatusRegister } from './status.ts'

const MASK = { unit: '', min: 0, max: 65_535, initial: 0, integer: true } as const

function registerCommands(name: string, of: (context: Context) => StatusRegister): Command[] {
  const mask = (node: string, key: 'enable' | 'positive' | 'negative'): Command => ({
    pattern: `STATus:${name}:${node}`,
    set: (context, parameters) => {
      const register = of(context)
      register[key] = register.mask(numberOf(onlyParameter(parameters), MASK))
    },
    query: (context) => String(of(context)[key]),
  })
  return [
    { pattern: `STATus:${name}[:EVENt]`, query: (context) => String(of(context).takeEvent()) },
    { pattern: `STATus:${name}:CONDition`, query: (context) => String(of(context).condition) },
    mask('ENABle', 'enable'),
    mask('PTRansition', 'positive'),
    mask('NTRansition', 'negative'),
  ]
}

function serialNumber(node: string, key: 'baud' | 'bits' | 'stopBits', limits: NumberLimits): Command {
  return {
    pattern: `SYSTem:COMMunicate:SERial[:RECeive]:${node}`,
    set: (context, parameters) => {
      context.serial = { ...context.serial, [key]: numberOf(onlyParameter(parameters), limits) }
    },
    query: (context, parameters) => askedNumber(parameters, context.serial[key], limits),
  }
}

function serialChoice(node: string, key: 'parity' | 'pace', choices: readonly string[]): Command {
  return {
    pattern: `SYSTem:COMMunicate:SERial[:RECeive]:${node}`,
    set: (context, parameters) => {
      context.serial = { ...context.serial, [key]: choiceOf(onlyParameter(parameters), choices) }
    },
    query: (context) => context.serial[key],
  }
}

export const INITIAL_SERIAL: SerialSettings = { baud: 115_200, bits: 8, parity: 'NONE', stopBits: 1, pace: 'NONE' }

export const STATUS_COMMANDS: readonly Command[] = [
  ...registerCommands('OPERation', (context) => context.status.operation),
  ...registerCommands('QUEStionable', (context) => context.status.questionable),
  {
    pattern: 'STATus:PRESet',
    set: (context) => {
      context.status.operation.preset()
      context.status.questionable.preset()
    },
  },
  { pattern: 'SYSTem:ERRor[:NEXT]', query: (context) => context.status.next() },
  { pattern: 'SYSTem:ERRor:ALL', query: (context) => context.status.all() },
  { pattern: 'SYSTem:ERRor:COUNt', query: (context) => String(context.status.errorCount) },
  { pattern: 'SYSTem:VERSion', query: () => '1999.0' },
  {
    pattern: 'SYSTem:HELP:HEADers',
    query: (context) => definiteBlock(Uint8Array.from(context.headers(), (c) => c.charCodeAt(0))),
  },
  serialNumber('BAUD', 'baud', { unit: '', min: 300, max: 12_000_000, initial: 115_200, integer: true }),
  serialNumber('BITS', 'bits', { unit: '', min: 8, max: 8, initial: 8, integer: true }),
  serialNumber('SBITs', 'stopBits', { unit: '', min: 1, max: 2, initial: 1, integer: true }),
  serialChoice('PARity[:TYPE]', 'parity', ['NONE', 'EVEN', 'ODD']),
  // Blocks are binary: software flow control would eat two of their byte values and is not offered.
  serialChoice('PACE', 'pace', ['NONE']),
]
