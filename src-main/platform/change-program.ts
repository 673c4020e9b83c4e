import { execFile } from 'node:child_process'
import { argumentsFor, type ChangeCommand } from '#shared/domain/change-command.ts'
import type { Visit } from '#shared/domain/campaign-plan.ts'
import { AppError } from '#shared/domain/errors.ts'

const LIMIT_S = 60
const OUTPUT_BYTES = 64 * 1024
const SHOWN = 400
const LAST_WORDS_MS = 200

/**
 * Runs the operator's own program for one visit, without a shell, so that no label can be read as a command. Resolves
 * when it ends with 0, though what it started may go on. Rejects with `invalid-input` when it cannot be started, fails,
 * takes over a minute or floods its output, with what it said; with `cancelled` when stopped.
 */
export function runChangeProgram(command: ChangeCommand, visit: Visit, signal: AbortSignal): Promise<void> {
  return new Promise((resolve, reject) => {
    let letGo: NodeJS.Timeout | undefined
    const program = execFile(
      command.program,
      argumentsFor(command, visit),
      {
        shell: false,
        timeout: LIMIT_S * 1000,
        killSignal: 'SIGKILL',
        windowsHide: true,
        maxBuffer: OUTPUT_BYTES,
        signal,
      },
      (error, stdout, stderr) => {
        clearTimeout(letGo)
        if (error === null) return resolve()
        if (signal.aborted) return reject(new AppError('cancelled', 'The run was paused.'))
        const why = error.killed === true ? `it took longer than ${LIMIT_S} s or printed too much` : endedBy(error)
        const said = printable(`${stderr}\n${stdout}`)
        reject(
          new AppError(
            'invalid-input',
            `The change command failed: ${why}.${said === '' ? '' : ` It said: ${said}`}`,
            'Correct the program or its arguments, then resume the run.',
          ),
        )
      },
    )
    // What it left running may hold its output open for ever; its own last words have arrived by then.
    program.once('exit', () => {
      letGo = setTimeout(() => {
        program.stdout?.destroy()
        program.stderr?.destroy()
      }, LAST_WORDS_MS)
    })
  })
}

function endedBy(error: Error & { code?: string | number | null; signal?: NodeJS.Signals | null }): string {
  if (typeof error.code === 'number') return `exit code ${error.code}`
  return error.signal != null
    ? `ended by ${error.signal}`
    : error.code === 'ENOENT'
      ? 'it is not there'
      : String(error.code)
}

/** What a program said, on one line, without control characters. */
const printable = (text: string): string =>
  text
    .replace(/[\p{Cc}\s]+/gu, ' ')
    .trim()
    .slice(0, SHOWN)
