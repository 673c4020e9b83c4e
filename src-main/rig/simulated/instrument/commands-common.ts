/** Common commands of IEEE 488.2 chapter 10 that SCPI-1999 (Volume 1, 4.1.1) mandates, and *TRG. */
import { initialSettings, type Command, type Context, type Pending } from './context.ts'
import { numberOf, onlyParameter } from './parameters.ts'
import { ScpiError } from './scpi-error.ts'
import { ESR } from './status.ts'

const BYTE = { unit: '', min: 0, max: 255, initial: 0, integer: true } as const

export function reset(context: Context): void {
  context.acquisition.continuous = false
  context.acquisition.abort()
  context.acquisition.record = null
  context.completionWanted = false
  context.settings = initialSettings()
}

/** No operation is pending while the trigger system rests; a continuous one never rests and does not count. */
export function complete(context: Context): boolean {
  return context.acquisition.state === 'idle' || context.acquisition.continuous
}

function whenComplete(context: Context, what: string, answer: string | null): Pending {
  return { ready: () => complete(context), answer: () => answer, what }
}

export const COMMON_COMMANDS: readonly Command[] = [
  {
    pattern: '*CLS',
    set: (context) => {
      context.status.clear()
      context.completionWanted = false
    },
  },
  {
    pattern: '*ESE',
    set: (context, parameters) => {
      context.status.eventEnable = numberOf(onlyParameter(parameters), BYTE)
    },
    query: (context) => String(context.status.eventEnable),
  },
  { pattern: '*ESR', query: (context) => String(context.status.takeEvent()) },
  { pattern: '*IDN', query: (context) => context.identity, indefinite: true },
  {
    pattern: '*OPC',
    set: (context) => {
      if (complete(context)) context.status.event |= ESR.operationComplete
      else context.completionWanted = true
    },
    query: (context) => whenComplete(context, '*OPC?', '1'),
  },
  {
    pattern: '*RST',
    set: reset,
  },
  {
    pattern: '*SRE',
    set: (context, parameters) => {
      // Bit 6 cannot be enabled (IEEE 488.2 11.3.2.3).
      context.status.serviceEnable = numberOf(onlyParameter(parameters), BYTE) & ~(1 << 6)
    },
    query: (context) => String(context.status.serviceEnable),
  },
  { pattern: '*STB', query: (context) => String(context.status.byte(context.messageAvailable())) },
  { pattern: '*TST', query: () => '0' },
  {
    pattern: '*WAI',
    set: (context) => whenComplete(context, '*WAI', null),
  },
  {
    pattern: '*TRG',
    set: (context) => {
      if (!context.acquisition.trigger('BUS', context.now())) throw new ScpiError(-211)
    },
  },
]
