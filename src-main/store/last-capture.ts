/**
 * The number of the newest capture in a small file beside the archive, outside of SQLite. A write-ahead log that is gone
 * or cut leaves an archive that is sound and merely older; only something outside can tell.
 */
import { closeSync, openSync, readFileSync, rmSync, writeSync } from 'node:fs'

const SUFFIX = '-last'
const DIGITS = 15

export interface LastCapture {
  /** Remembers that captures up to this number are stored. Never throws: it is a help, not a condition. */
  note(id: number): void
  /** @param remove when the archive was closed in order and has no log any more. */
  close(remove: boolean): void
}

/** What was remembered; null when nothing was. */
export function lastCaptureOf(path: string): number | null {
  try {
    const text = readFileSync(path + SUFFIX, 'latin1')
    return /^\d{15}\n$/.test(text) ? Number(text) : null
  } catch {
    return null
  }
}

export function rememberLastCapture(path: string): LastCapture {
  let file: number | null = null
  let noted = -1
  try {
    file = openSync(path + SUFFIX, 'w', 0o600)
  } catch {
    // A full or read-only disk: the archive can be looked at all the same.
  }
  return {
    note(id) {
      if (file === null || id === noted) return
      try {
        writeSync(file, `${String(id).padStart(DIGITS, '0')}\n`, 0, 'latin1')
        noted = id
      } catch {
        noted = -1
      }
    },
    close(remove) {
      if (file !== null) closeSync(file)
      file = null
      if (remove) rmSync(path + SUFFIX, { force: true })
    },
  }
}
