import { toErrorDetail } from '#shared/domain/errors.ts'
import { EXIT, exitCodeOf, type ExitCode } from './exit-codes.ts'
import type { CliProcess } from './host.ts'
import { printable, printableLine } from './printable.ts'

/** One way of speaking for all commands: results to standard output, everything else to standard error. */
export interface Output {
  readonly json: boolean
  /** The result: the object with `--json`, the text without. Called once per command. */
  result(json: unknown, text: () => string): void
  /** A remark for a person; on standard error, and as a JSON line with `--json`. */
  note(text: string): void
  /** A passing state; redrawn on a terminal, else at most once every few seconds. */
  progress(text: string, json: Record<string, unknown>): void
  /** Ends a redrawn line. */
  progressEnd(): void
}

/** Between progress lines where they cannot be redrawn, ms: a person reads a log, a program follows. */
const TEXT_EVERY_MS = 5000
const JSON_EVERY_MS = 1000

export function createOutput(process: CliProcess, json: boolean): Output {
  let lineLength = 0
  let shownAt = -Infinity
  const clearLine = (): void => {
    if (lineLength > 0) process.err(`\r${' '.repeat(lineLength)}\r`)
    lineLength = 0
  }
  return {
    json,
    result(value, text) {
      clearLine()
      process.out(json ? `${jsonText(value, 2)}\n` : printable(ensureNewline(text())))
    },
    note(text) {
      clearLine()
      process.err(json ? `${jsonText({ note: text })}\n` : printable(ensureNewline(text)))
    },
    progress(words, details) {
      const text = printableLine(words)
      const now = performance.now()
      if (process.liveErr && !json) {
        process.err(`\r${text.padEnd(lineLength)}`)
        lineLength = text.length
        return
      }
      if (now - shownAt < (json ? JSON_EVERY_MS : TEXT_EVERY_MS)) return
      shownAt = now
      process.err(json ? `${jsonText({ progress: details })}\n` : `${text}\n`)
    },
    progressEnd: clearLine,
  }
}

/** JSON leaves some of what terminals obey as it is; escaped it means the same. */
const jsonText = (value: unknown, indent?: number): string => printable(JSON.stringify(value, null, indent))

const ensureNewline = (text: string): string => (text.endsWith('\n') || text === '' ? text : `${text}\n`)

/** Says what happened and what to do, on standard error; answers the exit code. */
export function reportError(process: CliProcess, json: boolean, error: unknown): ExitCode {
  const { code, message, remedy } = toErrorDetail(error)
  const exitCode = exitCodeOf(code)
  process.err(
    json
      ? `${jsonText({ error: { code, message, remedy, exit_code: exitCode } })}\n`
      : printable(`${message}${remedy === '' ? '' : `\n${remedy}`}\n`),
  )
  // The message of a fault of the program does not help to find it.
  if (exitCode === EXIT.fault && error instanceof Error && error.stack !== undefined && !json)
    process.err(printable(`${error.stack}\n`))
  return exitCode
}

/** Columns aligned under their titles; numbers to the right. */
export function textTable(titles: readonly string[], rows: readonly (readonly (string | number | null)[])[]): string {
  const cells = rows.map((row) => row.map((cell) => (cell === null ? '–' : printableLine(String(cell)))))
  const widths = titles.map((title, i) => Math.max(title.length, ...cells.map((row) => row[i]?.length ?? 0)))
  const right = titles.map(
    (_, i) => rows.length > 0 && rows.every((row) => typeof row[i] !== 'string' || /^[-+–−±\d.]/.test(row[i])),
  )
  const line = (row: readonly string[]): string =>
    row
      .map((cell, i) => (right[i] ? cell.padStart(widths[i] ?? 0) : cell.padEnd(widths[i] ?? 0)))
      .join('  ')
      .trimEnd()
  return [line(titles), ...cells.map(line)].join('\n')
}

/** A number with four significant digits, without exponent where that stays readable. */
export function shortNumber(value: number): string {
  if (Number.isInteger(value) && Math.abs(value) < 1e6) return String(value)
  const size = Math.abs(value)
  if (size >= 1e6 || size < 1e-4) return value.toExponential(3)
  const digits = Math.max(0, 3 - Math.floor(Math.log10(size)))
  return value.toFixed(Math.min(digits, 7))
}
