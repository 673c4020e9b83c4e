import { appendFileSync, mkdirSync, renameSync, statSync } from 'node:fs'
import { join } from 'node:path'
import type { Log } from '#main/core/ports.ts'

const ROTATE_BYTES = 5 * 1024 * 1024

/**
 * A log of one JSON object a line in `folder`/slewlight.log, written at once so that the last line before a crash is
 * there; the file of before is kept once it has grown large. A folder that cannot be written costs the log, not the
 * program: lines then go to standard error.
 */
export function openLog(folder: string, now: () => Date = () => new Date()): Log {
  const path = logFile(folder)
  const write =
    (level: 'info' | 'warn' | 'error') =>
    (message: string, detail: Record<string, unknown> = {}): void => {
      const line = `${JSON.stringify({ time: now().toISOString(), level, message, ...detail })}\n`
      try {
        if (path === null) process.stderr.write(line)
        else appendFileSync(path, line)
      } catch {
        // A full disk must not stop the work that is being logged.
      }
    }
  return { info: write('info'), warn: write('warn'), error: write('error') }
}

function logFile(folder: string): string | null {
  const path = join(folder, 'slewlight.log')
  try {
    mkdirSync(folder, { recursive: true })
    if ((statSync(path, { throwIfNoEntry: false })?.size ?? 0) > ROTATE_BYTES) renameSync(path, `${path}.old`)
    appendFileSync(path, '')
    return path
  } catch (error) {
    process.stderr.write(`The log cannot be written to ${folder}: ${String(error)}\n`)
    return null
  }
}
