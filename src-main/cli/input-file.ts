import { constants, type Stats } from 'node:fs'
import { open, stat } from 'node:fs/promises'
import { AppError } from '#shared/domain/errors.ts'

/** Why a path cannot be read as a file, by the system's code. */
const REASONS: Readonly<Record<string, string>> = {
  ENOENT: 'there is no such file',
  EISDIR: 'it is a folder',
  EACCES: 'reading it is not permitted',
  ENXIO: 'it is not a regular file',
}

/**
 * Bytes of a plain file. Folders, pipes and devices are refused at once: they have no end, or keep whoever opens them
 * waiting. Rejects with `import-unreadable`.
 */
export async function readInputFile(path: string, maxBytes: number): Promise<Buffer> {
  try {
    // Looked at before it is opened, since opening a device may set it going; and again, without waiting, after.
    refuseUnlessFile(path, await stat(path))
    const file = await open(path, constants.O_RDONLY | constants.O_NONBLOCK)
    try {
      const found = await file.stat()
      refuseUnlessFile(path, found)
      if (found.size > maxBytes) throw tooLong(path, found.size, maxBytes)
      return await readWhole(file, path, maxBytes)
    } finally {
      await file.close()
    }
  } catch (error) {
    if (error instanceof AppError) throw error
    const { code, message } = error as NodeJS.ErrnoException
    throw refused(path, REASONS[code ?? ''] ?? message)
  }
}

/** Some files grow, or say nothing of their size. */
async function readWhole(file: Awaited<ReturnType<typeof open>>, path: string, maxBytes: number): Promise<Buffer> {
  const parts: Buffer[] = []
  let total = 0
  for (;;) {
    const { bytesRead, buffer } = await file.read(Buffer.alloc(1 << 20), 0, 1 << 20, null)
    if (bytesRead === 0) return Buffer.concat(parts)
    total += bytesRead
    if (total > maxBytes) throw tooLong(path, total, maxBytes)
    parts.push(buffer.subarray(0, bytesRead))
  }
}

function refuseUnlessFile(path: string, found: Stats): void {
  if (found.isDirectory()) throw refused(path, 'it is a folder')
  if (!found.isFile()) throw refused(path, 'it is not a regular file')
}

function refused(path: string, why: string): AppError {
  return new AppError('import-unreadable', `${path} cannot be read: ${why}.`, 'Check the path.')
}

function tooLong(path: string, bytes: number, maxBytes: number): AppError {
  return new AppError(
    'import-unreadable',
    `${path} has ${(bytes / 2 ** 20).toFixed(0)} MiB; at most ${(maxBytes / 2 ** 20).toFixed(0)} MiB are read.`,
    'Save a shorter span or fewer samples per second.',
  )
}
