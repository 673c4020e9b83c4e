import { randomBytes } from 'node:crypto'
import { open, rename, rm, stat, type FileHandle } from 'node:fs/promises'
import { dirname, join, basename } from 'node:path'
import { AppError } from '#shared/domain/errors.ts'
import { isDiskFull } from '#main/core/disk-full.ts'
import type { ExportFile } from '#main/core/ports.ts'
import { stopIfAborted } from './csv.ts'

export interface WrittenFile {
  readonly path: string
  /** Made in the file's own unit. */
  readonly done: number
  readonly bytes: number
}

/**
 * Writes an export to a file: first under another name in the same folder, then, when everything is there and safe on
 * disk, renamed into place. A file of that name is replaced only then; whatever goes wrong leaves it as it was and
 * nothing beside it. Rejects with `cancelled`, `archive-disk-full` or `invalid-input` (folder absent or not writable).
 */
export async function writeExport(
  path: string,
  file: ExportFile,
  options: { readonly signal?: AbortSignal; readonly onProgress?: (done: number) => void } = {},
): Promise<WrittenFile> {
  const { signal, onProgress } = options
  stopIfAborted(signal)
  const temporary = join(dirname(path), `.${basename(path)}.${randomBytes(6).toString('hex')}.part`)
  let handle: FileHandle | null = null
  try {
    handle = await open(temporary, 'wx')
    let bytes = 0
    let done = 0
    for await (const piece of file.pieces(signal)) {
      await handle.appendFile(piece.bytes)
      bytes += piece.bytes.length
      done = piece.done
      onProgress?.(done)
      stopIfAborted(signal)
    }
    await handle.sync()
    await handle.close()
    handle = null
    const written = (await stat(temporary)).size
    if (written !== bytes)
      throw new AppError('internal', `${path}: ${written} of ${bytes} bytes reached the disk.`, 'Export again.')
    await rename(temporary, path)
    return { path, done, bytes }
  } catch (error) {
    await handle?.close().catch(() => undefined)
    await rm(temporary, { force: true }).catch(() => undefined)
    throw fileError(path, error)
  }
}

function fileError(path: string, error: unknown): unknown {
  const code = (error as NodeJS.ErrnoException | null)?.code
  if (error instanceof AppError || typeof code !== 'string') return error
  if (isDiskFull(error))
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
