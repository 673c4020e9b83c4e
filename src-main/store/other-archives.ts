/** Archives beside the one in use: opened only to read, or as a copy. */
import { mkdtemp, readdir, realpath, rm, stat } from 'node:fs/promises'
import { tmpdir } from 'node:os'
import { isAbsolute, join } from 'node:path'
import type { OtherArchives } from '#main/core/ports.ts'
import { AppError } from '#shared/domain/errors.ts'
import { openStore, type StoreOptions } from './store.ts'

export function createOtherArchives(options: Pick<StoreOptions, 'createWorker' | 'clock' | 'log'>): OtherArchives {
  const open: OtherArchives['open'] = (path) => openStore({ ...options, path, readOnly: 'untouched' })
  return {
    async stamp(path) {
      // What is not folded into the file yet stands in its log.
      const states = await Promise.all([path, `${path}-wal`].map((file) => stat(file).catch(() => null)))
      return states[0] === null ? null : states.map((state) => `${state?.size ?? 0} ${state?.mtimeMs ?? 0}`).join(' ')
    },
    open,
    async copy(path) {
      const folder = await mkdtemp(join(tmpdir(), 'slewlight-copy-'))
      const remove = () => rm(folder, { recursive: true, force: true })
      const copied = join(folder, 'copy.sqlite')
      try {
        const source = await open(path)
        try {
          await source.copyTo({ path: copied })
        } finally {
          await source.close()
        }
        const store = await openStore({ ...options, path: copied })
        return {
          store,
          async discard() {
            try {
              await store.close()
            } finally {
              await remove()
            }
          },
        }
      } catch (error) {
        await remove()
        throw error
      }
    },
  }
}

/** The path of a file on this machine, absolute and without links. Rejects with `invalid-input` or `not-found`. */
export async function locateArchive(path: string): Promise<string> {
  // A name of another machine would make this one sign in there.
  if (!isAbsolute(path) || /^[/\\]{2}/.test(path))
    throw new AppError('invalid-input', `“${path}” is not a whole path on this machine.`, 'Begin at the root.')
  try {
    const found = await realpath(path)
    if ((await stat(found)).isFile()) return found
  } catch {
    throw new AppError('not-found', `There is no file at ${path}.`, 'Check the path.')
  }
  throw new AppError('invalid-input', `${path} is not a file.`, 'Name the archive itself.')
}

/** Archives in folders, by the ending of their names; folders that are not there hold none. */
export async function archivesIn(folders: readonly string[]): Promise<string[]> {
  const found = await Promise.all(
    folders.map(async (folder) => {
      const names = await readdir(folder).catch(() => [])
      return Promise.all(
        names
          .filter((name) => /\.(sqlite|slewlight)$/i.test(name))
          .sort()
          .map((name) => realpath(join(folder, name)).catch(() => join(folder, name))),
      )
    }),
  )
  return [...new Set(found.flat())]
}
