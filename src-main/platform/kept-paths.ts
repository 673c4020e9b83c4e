import { mkdir, readFile, rename, writeFile } from 'node:fs/promises'
import { dirname } from 'node:path'
import { z } from 'zod'
import type { KeptPaths, Log } from '#main/core/ports.ts'

const fileSchema = z.object({ archives: z.array(z.string()) })

/** Paths in a small file of the person's own. One that cannot be read counts as empty and is told to the log. */
export function createKeptPaths(file: string, log: Pick<Log, 'warn'>): KeptPaths {
  return {
    async read() {
      try {
        return fileSchema.parse(JSON.parse(await readFile(file, 'utf8'))).archives
      } catch (error) {
        if ((error as NodeJS.ErrnoException).code !== 'ENOENT')
          log.warn('The list of archives compared cannot be read.', { file, error: String(error) })
        return []
      }
    },
    async write(archives) {
      await mkdir(dirname(file), { recursive: true })
      // In one step: a program that is killed leaves the list of before.
      await writeFile(`${file}.new`, `${JSON.stringify({ archives }, null, 2)}\n`)
      await rename(`${file}.new`, file)
    },
  }
}
