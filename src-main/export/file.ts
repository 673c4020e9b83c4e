import { randomBytes } from 'node:crypto'
import { open, rename, rm, stat, type FileHandle } from 'node:fs/promises'
import { dirname, join, basename } from 'node:path'
import { AppError } from '#shared/domain/errors.ts'
import { csvChunks, stopIfAborted, type Table } from './csv.ts'

export interface WrittenFile {
  readonly path: string
  readonly rows: number
  readonly bytes: number
}

/**
 * Writes a table to a file: first under another name in the same folder, then, when every row is there and safe on
 * disk, renamed into place. A file of that name is replaced only then; whatever goes wrong leaves it as it was and
 * nothing beside it. Rejects with `cancelled`, `archive-disk-full` or `invalid-input` (folder absent or not writable).
 */
export async function writeTable(
  path: string,
  table: Table,
  options: { readonly signal?: AbortSignal; readonly onProgress?: (rows: number, total: number) => void } = {},
): Promise<WrittenFile> {
  const { signal, onProgress } = options
  stopIfAborted(signal)
  const temporary = join(dirname(path), `.${basename(path)}.${randomBytes(6).toString('hex')}.part`)
  let handle: FileHandle | null = null
  try {
    handle = await open(temporary, 'wx')
    let bytes = 0
    let rows = 0
    for await (const chunk of csvChunks(table, signal)) {
      const data = Buffer.from(chunk.text, 'utf8')
      await handle.appendFile(data)
      bytes += data.length
      rows = chunk.rows
      onProgress?.(rows, table.rows)
      stopIfAborted(signal)
    }
    await handle.sync()
    await handle.close()
    handle = null
    const written = (await stat(temporary)).size
    if (written !== bytes)
      throw new AppError('internal', `${path}: ${written} of ${bytes} bytes reached the disk.`, 'Export again.')
    await rename(temporary, path)
    return { path, rows, bytes }
  } catch (error) {
    await handle?.close().catch(() => undefined)
    await rm(temporary, { force: true }).catch(() => undefined)
    throw fileError(path, error)
  }
}

function fileError(path: string, error: unknown): unknown {
  const code = (error as NodeJS.ErrnoException | null)?.code
  if (error instanceof AppError || typeof code !== 'string') return error
  if (code === 'ENOSPC' || code === 'EDQUOT')
    return new AppError(
      'archive-disk-full',
      `The disk is full; ${path} was not written.`,
      'Free space and export again.',
    )
  const why: Record<string, string> = {
    ENOENT: 'its folder does not exist',
    EACCES: 'writing there is not permitted',
    EPERM: 'writing there is not permitted',
    EROFS: 'the disk is read-only',
    EISDIR: 'it is a folder',
    ENOTDIR: 'its path leads through a file',
    ENAMETOOLONG: 'its name is too long',
  }
  return new AppError(
    'invalid-input',
    `${path} cannot be written: ${why[code] ?? code}.`,
    'Choose another file or folder.',
    { cause: error },
  )
}
