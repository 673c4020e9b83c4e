import { randomUUID } from 'node:crypto'
import { appendFile, mkdtemp, readFile, rm } from 'node:fs/promises'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import type { Clock, Staging } from '#main/core/ports.ts'
import { AppError } from '#shared/domain/errors.ts'
import { isDiskFull } from '#main/core/disk-full.ts'
import { removeAbandoned } from './abandoned.ts'

export interface StagingOptions {
  readonly clock: Pick<Clock, 'now'>
  /** Folder under which the files are kept; the system's folder for temporary files when absent. */
  readonly root?: string
  readonly maxFileBytes: number
  /** Of all files together. */
  readonly maxBytes: number
  /** Files that nobody touched for this long give way when room is needed, s. */
  readonly staleS: number
}

interface Staged {
  bytes: number
  touchedAt: number
}

/** Followed by the number of the process that holds the files. */
const FOLDER = 'slewlight-staged-'

/** Whose folder of work in progress it is: staged files, a bundle being made or verified. */
function ownerOf(name: string): number | null {
  const [, pid] = /^slewlight-(?:staged|bundle|verify)-(\d+)-[^/]+$/.exec(name) ?? []
  return pid === undefined ? null : Number(pid)
}

/** Chosen files on disk, in a folder of their own that only this user can read and that goes when the host does. */
export function createStaging(options: StagingOptions): Staging {
  const { clock, root = tmpdir(), maxFileBytes, maxBytes, staleS } = options
  const files = new Map<string, Staged>()
  let folder: Promise<string> | null = null
  const cleared = removeAbandoned(root, ownerOf)
  const pathOf = async (id: string): Promise<string> => {
    folder ??= mkdtemp(join(root, `${FOLDER}${process.pid}-`))
    return join(await folder, id)
  }
  const known = (id: string): Staged => {
    const file = files.get(id)
    if (file === undefined) throw new AppError('not-found', 'This file is no longer available.', 'Choose it again.')
    file.touchedAt = clock.now()
    return file
  }
  const discard = async (ids: readonly string[]): Promise<void> => {
    for (const id of ids) {
      if (!files.delete(id)) continue
      await rm(await pathOf(id), { force: true })
    }
  }
  const total = (): number => [...files.values()].reduce((sum, file) => sum + file.bytes, 0)

  const makeRoom = async (bytes: number): Promise<void> => {
    if (total() + bytes <= maxBytes) return
    await discard([...files].filter(([, file]) => clock.now() - file.touchedAt > staleS).map(([id]) => id))
    if (total() + bytes > maxBytes)
      throw new AppError(
        'invalid-input',
        `The chosen files have more than ${(maxBytes / 2 ** 30).toFixed(0)} GiB together.`,
        'Import them in several batches.',
      )
  }

  return {
    async append(id, bytes) {
      const own = id ?? randomUUID()
      if (id !== null) known(id)
      if ((files.get(own)?.bytes ?? 0) + bytes.length > maxFileBytes)
        throw new AppError(
          'import-unreadable',
          `The file is larger than ${(maxFileBytes / 2 ** 20).toFixed(0)} MiB.`,
          'Save a shorter span or fewer samples per second.',
        )
      await makeRoom(bytes.length)
      const file = files.get(own) ?? { bytes: 0, touchedAt: clock.now() }
      files.set(own, file)
      file.bytes += bytes.length
      try {
        await appendFile(await pathOf(own), bytes, { mode: 0o600 })
      } catch (error) {
        await discard([own]).catch(() => undefined)
        throw diskError(error)
      }
      return own
    },
    async read(id) {
      known(id)
      return readFile(await pathOf(id))
    },
    discard,
    async close() {
      await cleared
      files.clear()
      if (folder !== null) await rm(await folder, { recursive: true, force: true })
      folder = null
    },
  }
}

function diskError(error: unknown): unknown {
  if (isDiskFull(error))
    return new AppError(
      'archive-disk-full',
      'The disk for temporary files is full; the file was not taken.',
      'Free space there, or import fewer files at a time.',
    )
  return error
}
