/** Option values as numbers and ids, with messages that name the option. */
import { InvalidArgumentError, type Command } from 'commander'
import type { z } from 'zod'
import { MEASURE_IDS, type MeasureId } from '#shared/domain/measures.ts'
import { DEFAULT_RECIPE } from '#shared/domain/recipe.ts'

/** A number within bounds; accepts decimal points only. */
export function numberOption(low: number, high: number): (text: string) => number {
  return (text) => {
    const value = Number(text)
    if (text.trim() === '' || !Number.isFinite(value)) throw new InvalidArgumentError('It is not a number.')
    if (value < low || value > high) throw new InvalidArgumentError(`It must be from ${low} to ${high}.`)
    return value
  }
}

export function integerOption(low: number, high: number): (text: string) => number {
  const number = numberOption(low, high)
  return (text) => {
    const value = number(text)
    if (!Number.isInteger(value)) throw new InvalidArgumentError('It must be a whole number.')
    return value
  }
}

export const idOption = integerOption(1, Number.MAX_SAFE_INTEGER)

export function oneOf<T extends string>(choices: readonly T[]): (text: string) => T {
  return (text) => {
    const found = choices.find((choice) => choice.toLowerCase() === text.toLowerCase())
    if (found === undefined) throw new InvalidArgumentError(`It must be one of ${choices.join(', ')}.`)
    return found
  }
}

/** A measure by its identifier, with or without its unit: `transition_duration` or `transition_duration_s`. */
export function measureOption(text: string): MeasureId {
  const found =
    MEASURE_IDS.find((id) => id === text) ??
    MEASURE_IDS.filter((id) => id.replace(/_(?:s|pct|code|v|hz)$/, '') === text).at(0)
  if (found === undefined) throw new InvalidArgumentError(`Measures are ${MEASURE_IDS.join(', ')}.`)
  return found
}

/** `0,51,102` as ascending levels. */
export function levelsOption(text: string): number[] {
  const level = integerOption(0, 255)
  const levels = text
    .split(/[,\s]+/)
    .filter((part) => part !== '')
    .map(level)
  return levels.sort((a, b) => a - b)
}

/** Everything a schema found wrong, as sentences; `names` gives the option for a field. */
export function problemsOf(error: z.ZodError, names: Readonly<Record<string, string>> = {}): string {
  return error.issues
    .map((issue) => {
      // Rules of our own are whole sentences; what the schema library says of types and sizes is not.
      if (issue.code === 'custom') return issue.message
      const field = String(issue.path[0] ?? '')
      const named = names[field] ?? `--${field.replace(/[A-Z]/g, (letter) => `-${letter.toLowerCase()}`)}`
      if (issue.code === 'too_small')
        return `${named} is ${issue.origin === 'string' ? 'empty' : 'too small: at least'}${issue.origin === 'string' ? '' : ` ${issue.minimum}`}.`
      if (issue.code === 'too_big')
        return `${named} is too ${issue.origin === 'string' ? 'long' : 'large'}: at most ${issue.maximum}${issue.origin === 'string' ? ' characters' : ''}.`
      return `${named} is not possible.`
    })
    .join(' ')
}

/** Units of a time column, as `--time-unit` names them, and what they are in seconds. */
export const TIME_SCALES = { s: 1, ms: 1e-3, us: 1e-6, ns: 1e-9 } as const
export type TimeUnit = keyof typeof TIME_SCALES
const TIME_UNITS = Object.keys(TIME_SCALES) as readonly TimeUnit[]

/** Where captures go, and what they are measured by. */
export function addCampaignOptions(command: Command, campaign: string): Command {
  return command
    .option('--campaign <name>', 'campaign by name or number; a new name creates one', campaign)
    .option('--display <text>', 'display under test, for a new campaign', '')
    .option('--recipe <recipe>', 'recipe the captures are measured by: name, hash or JSON file', DEFAULT_RECIPE.name)
}

export function addRunningOptions(command: Command): Command {
  return command
    .option('--speed <factor>', 'embedded simulated rig only: times faster than real time', numberOption(1, 200), 1)
    .option('--i-understand-flashing', 'the warning about flashing light was read; needed when a real screen is used')
}

/** What a recording in a text file says of its time axis. */
export function addTimeOptions(command: Command): Command {
  return command
    .option(
      '--time-unit <unit>',
      'unit of the time column: s, ms, us or ns (default: from the header)',
      oneOf(TIME_UNITS),
    )
    .option('--interval <s>', 'sample interval of a file without time column', numberOption(1e-9, 1))
}
