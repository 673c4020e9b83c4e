/** Parameters to values: decimal numbers with units, booleans, choices. */
import type { Parameter } from './program-parser.ts'
import { ScpiError } from './scpi-error.ts'

export type UnitKind = 'V' | 'S' | 'HZ' | ''

const UNITS: Readonly<Record<UnitKind, Readonly<Record<string, number>>>> = {
  '': {},
  V: { V: 1, KV: 1e3, MV: 1e-3, UV: 1e-6 },
  S: { S: 1, MS: 1e-3, US: 1e-6, NS: 1e-9 },
  // In frequencies M stands for mega (IEEE 488.2 7.7.3, SCPI-1999 7.2.4), unlike everywhere else.
  HZ: { HZ: 1, KHZ: 1e3, MHZ: 1e6, MAHZ: 1e6, GHZ: 1e9 },
}

export interface NumberLimits {
  readonly unit: UnitKind
  readonly min: number
  readonly max: number
  readonly initial: number
  readonly integer?: boolean
}

export function onlyParameter(parameters: readonly Parameter[]): Parameter {
  const [parameter] = parameters
  if (!parameter) throw new ScpiError(-109)
  if (parameters.length > 1) throw new ScpiError(-108)
  return parameter
}

export function noParameter(parameters: readonly Parameter[]): void {
  if (parameters.length > 0) throw new ScpiError(-108)
}

/** MINimum, MAXimum and DEFault as numbers; null for any other word. */
function specialNumber(word: string, limits: NumberLimits): number | null {
  if (isWord(word, 'MINimum')) return limits.min
  if (isWord(word, 'MAXimum')) return limits.max
  if (isWord(word, 'DEFault')) return limits.initial
  return null
}

export function numberOf(parameter: Parameter, limits: NumberLimits): number {
  refuseOddKinds(parameter)
  if (parameter.kind === 'string') throw new ScpiError(-158)
  if (parameter.kind === 'word') {
    const special = specialNumber(parameter.text, limits)
    if (special !== null) return special
    if (isWord(parameter.text, 'INFinity') || isWord(parameter.text, 'NINFinity') || parameter.text === 'NAN')
      throw new ScpiError(-222)
    throw new ScpiError(-148)
  }
  if (parameter.kind !== 'number') throw new ScpiError(-104)
  const value = inUnit(parameter.value, parameter.unit, limits.unit)
  const rounded = limits.integer === true ? Math.round(value) : value
  // A last-digit excess, as from 1 ÷ rate, still is the limit.
  if (!(rounded >= limits.min - 1e-12 * Math.abs(limits.min) && rounded <= limits.max * (1 + 1e-12)))
    throw new ScpiError(-222)
  return Math.min(limits.max, Math.max(limits.min, rounded))
}

/** The value a query answers: the setting, or a limit when MIN, MAX or DEF is asked for. */
export function askedNumber(parameters: readonly Parameter[], value: number, limits: NumberLimits): string {
  if (parameters.length === 0) return formatReal(value)
  const parameter = onlyParameter(parameters)
  if (parameter.kind !== 'word') throw new ScpiError(-104)
  const special = specialNumber(parameter.text, limits)
  if (special === null) throw new ScpiError(-224)
  return formatReal(special)
}

function inUnit(value: number, unit: string, kind: UnitKind): number {
  if (unit === '') return value
  if (kind === '') throw new ScpiError(-138)
  const factor = UNITS[kind][unit]
  if (factor === undefined) throw new ScpiError(-131, unit)
  return value * factor
}

export function booleanOf(parameter: Parameter): boolean {
  if (parameter.kind === 'number') {
    if (parameter.unit !== '') throw new ScpiError(-138)
    return Math.round(parameter.value) !== 0
  }
  refuseOddKinds(parameter)
  if (parameter.kind !== 'word') throw new ScpiError(-104)
  if (parameter.text === 'ON') return true
  if (parameter.text === 'OFF') return false
  throw new ScpiError(-224)
}

/** The choice a word names; choices are written in mixed case and answered in short form. */
export function choiceOf(parameter: Parameter, choices: readonly string[]): string {
  refuseOddKinds(parameter)
  if (parameter.kind !== 'word') throw new ScpiError(-104)
  const found = choices.find((choice) => isWord(parameter.text, choice))
  if (found === undefined) throw new ScpiError(-224, parameter.text)
  return shortForm(found)
}

function isWord(text: string, pattern: string): boolean {
  return text === shortForm(pattern) || text === pattern.toUpperCase()
}

function shortForm(pattern: string): string {
  return pattern.replaceAll(/[a-z]/g, '')
}

/** NR1 for whole numbers, NR3 otherwise; shortest text that reads back the same. */
export function formatReal(value: number): string {
  if (Number.isInteger(value) && Math.abs(value) < 1e15) return String(value === 0 ? 0 : value)
  const text = value.toExponential().replace('e', 'E')
  return text.includes('.') ? text : text.replace('E', '.0E')
}

function refuseOddKinds(parameter: Parameter): void {
  if (parameter.kind === 'block') throw new ScpiError(-168)
  if (parameter.kind === 'expression') throw new ScpiError(-178)
}
