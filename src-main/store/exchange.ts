import { existsSync, renameSync } from 'node:fs'

/** Ends the name of a complete copy that has not taken the archive's place yet. */
export const COMPLETE = '.salvaged'

/**
 * Ends an exchange that was cut short: once the copy is complete it takes the archive's name, and what is still there of
 * the damaged one keeps its own place aside.
 */
export function finishExchange(path: string): void {
  if (existsSync(path) || !existsSync(path + COMPLETE)) return
  for (const suffix of ['-wal', '-shm', '-last'])
    if (existsSync(path + suffix)) renameSync(path + suffix, `${path}.damaged${suffix}`)
  renameSync(path + COMPLETE, path)
}
