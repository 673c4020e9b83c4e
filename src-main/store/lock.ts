/** Who may write an archive: one program at a time, for as long as it holds the file beside it. */
import Database from 'better-sqlite3'
import { existsSync } from 'node:fs'

/** How long it waits for another program that is just closing the archive, ms. */
const WAIT_MS = 1000

/**
 * Takes the archive for writing and answers with the release. The lock is SQLite's own on an empty file beside the
 * archive (the archive itself stays open to readers); the operating system takes it back when the process ends in any
 * way, so the file is left where it is. Throws SQLITE_BUSY while another program holds it.
 */
export function lockForWriting(path: string, waitMs = WAIT_MS): () => void {
  const db = new Database(`${path}-lock`, { timeout: waitMs })
  try {
    db.pragma('journal_mode = MEMORY')
    db.exec('BEGIN EXCLUSIVE')
  } catch (error) {
    db.close()
    throw error
  }
  return () => {
    db.close()
  }
}

/** Whether a program has the archive for writing just now. */
export function isLocked(path: string): boolean {
  if (!existsSync(`${path}-lock`)) return false
  try {
    lockForWriting(path, 0)()
    return false
  } catch {
    return true
  }
}
