import { AppError } from './errors.ts'
import type { Visit } from './campaign-plan.ts'

/** A program that changes setting and refresh rate: its path and arguments, placeholders still in them. */
export interface ChangeCommand {
  readonly program: string
  readonly args: readonly string[]
}

const PLACEHOLDERS = ['{setting}', '{refresh}']

/**
 * Splits `"/opt/my tool" --set {setting} {refresh}` once, at load. Quotes group; nothing is expanded, and no shell ever
 * sees it. Rejects with `invalid-input` where a placeholder is unknown or the program is not a literal absolute path.
 */
export function parseChangeCommand(template: string): ChangeCommand {
  const parts = split(template)
  const [program, ...args] = parts
  const unknown = parts.flatMap((part) => part.match(/\{[^}]*\}?/g) ?? []).find((name) => !PLACEHOLDERS.includes(name))
  if (unknown !== undefined)
    throw new AppError(
      'invalid-input',
      `${unknown} is not known in a change command.`,
      `Use ${PLACEHOLDERS.join(' and ')}.`,
    )
  if (program === undefined || !/^(\/|[A-Za-z]:[\\/])/.test(program) || program.includes('{'))
    throw new AppError(
      'invalid-input',
      'The program of a change command is not an absolute path.',
      'Give its whole path first.',
    )
  if (/\.(bat|cmd)$/i.test(program))
    throw new AppError('invalid-input', 'Batch files cannot be run without a shell.', 'Give a program (.exe) instead.')
  return { program, args }
}

function split(template: string): string[] {
  const parts: string[] = []
  let current: string | null = null
  let quote = ''
  for (const character of template) {
    if (quote !== '') {
      if (character === quote) quote = ''
      else current += character
    } else if (character === '"' || character === "'") {
      quote = character
      current ??= ''
    } else if (/\s/.test(character)) {
      if (current !== null) parts.push(current)
      current = null
    } else current = (current ?? '') + character
  }
  if (quote !== '') throw new AppError('invalid-input', 'A quote in the change command is not closed.', 'Close it.')
  return current === null ? parts : [...parts, current]
}

/** Arguments for one visit. A placeholder is replaced inside its argument; what is put in is never split. */
export const argumentsFor = ({ args }: ChangeCommand, { setting, refreshHz }: Visit): string[] =>
  args.map((part) =>
    part.replace(/\{(setting|refresh)\}/g, (_, name) => (name === 'setting' ? setting : String(refreshHz))),
  )
