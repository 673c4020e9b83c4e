import { readdir, rm } from 'node:fs/promises'
import { join } from 'node:path'

/**
 * Removes folders that processes which were killed left in a folder. Those of a running process, or of another user,
 * stay. Never rejects: it is tidying up.
 * @param owner of a name: the number of the process that made it; null for anything else.
 */
export async function removeAbandoned(root: string, owner: (name: string) => number | null): Promise<void> {
  for (const name of await readdir(root).catch(() => [])) {
    const pid = owner(name)
    if (pid !== null && !isRunning(pid))
      await rm(join(root, name), { recursive: true, force: true }).catch(() => undefined)
  }
}

function isRunning(pid: number): boolean {
  try {
    process.kill(pid, 0)
    return true
  } catch (error) {
    return (error as NodeJS.ErrnoException).code !== 'ESRCH'
  }
}
