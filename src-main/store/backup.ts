/** Copies of an archive made before its schema is upgraded. */
import type Database from 'better-sqlite3'
import { closeSync, existsSync, fsyncSync, openSync, readdirSync, renameSync, rmSync } from 'node:fs'
import { basename, dirname, join } from 'node:path'

const UNFINISHED = '.unfinished'

function freeName(path: string, version: number): string {
  for (let n = 1; ; n++) {
    const name = `${path}.schema-${version}${n === 1 ? '' : `-${n}`}.backup`
    if (!existsSync(name)) return name
  }
}

/**
 * Copies the open database beside its file and answers with the copy's path. The copy bears its final name only once it
 * is whole and on the disk; one that fails takes no room afterwards.
 */
export function makeBackup(db: Database.Database, path: string, version: number): string {
  const name = freeName(path, version)
  const unfinished = name + UNFINISHED
  try {
    // Not a copy of the file: closing a second handle on it would drop this process's lock.
    db.prepare('VACUUM INTO ?').run(unfinished)
    const file = openSync(unfinished, 'r+')
    try {
      fsyncSync(file)
    } finally {
      closeSync(file)
    }
    renameSync(unfinished, name)
    return name
  } catch (error) {
    rmSync(unfinished, { force: true })
    throw error
  }
}

/** Removes what an interrupted copy left behind. Only the holder of the archive may. */
export function removeUnfinishedBackups(path: string): void {
  const start = `${basename(path)}.schema-`
  for (const name of readdirSync(dirname(path)))
    if (name.startsWith(start) && name.includes(`.backup${UNFINISHED}`))
      rmSync(join(dirname(path), name), { force: true })
}
