import { AppError, type ErrorDetail, toErrorDetail } from '#shared/domain/errors.ts'

function sqliteCode(error: unknown): string | null {
  if (!(error instanceof Error) || !('code' in error)) return null
  return typeof error.code === 'string' && error.code.startsWith('SQLITE_') ? error.code : null
}

export const SALVAGE_REMEDY =
  'Salvage the archive: the damaged file is set aside and every readable capture is copied into a new archive. ' +
  'Or restore a copy of your own.'

/** Turns a failure of SQLite into one of the closed error codes with what to do; other errors pass through. */
export function storeError(error: unknown, path: string): ErrorDetail {
  if (error instanceof AppError) return error.detail
  const code = sqliteCode(error)
  if (code === null) return toErrorDetail(error)
  const message = error instanceof Error ? error.message : ''
  if (code === 'SQLITE_FULL')
    return {
      code: 'archive-disk-full',
      message: `The disk that holds ${path} is full; the last change was not stored.`,
      remedy: 'Free space on that disk and go on: everything stored before is safe.',
    }
  // A file opened without the right to write cannot be locked for writing either; nor can files of some network disks.
  if (code.startsWith('SQLITE_READONLY') || code === 'SQLITE_IOERR_LOCK')
    return {
      code: 'archive-read-only',
      message: `${path} cannot be written or locked (${code}).`,
      remedy:
        'Give yourself write permission for the file and its folder, or choose an archive on a disk of this machine.',
    }
  if (code.startsWith('SQLITE_BUSY') || code.startsWith('SQLITE_LOCKED'))
    return {
      code: 'archive-locked',
      message: `${path} is in use by another program.`,
      remedy: 'Close the other Slewlight window, server or tool that has it open, or choose another archive.',
    }
  if (code.startsWith('SQLITE_CORRUPT') || code === 'SQLITE_NOTADB')
    return {
      code: 'archive-damaged',
      message: `${path} is damaged: ${message} (${code}).`,
      remedy: SALVAGE_REMEDY,
    }
  if (code.startsWith('SQLITE_IOERR'))
    return {
      code: 'archive-damaged',
      message: `The disk that holds ${path} reported an error (${code}); the last change was not stored.`,
      remedy: 'Check the disk and its cable or network connection, then open the archive again.',
    }
  if (code.startsWith('SQLITE_CANTOPEN') || code === 'SQLITE_PERM' || code === 'SQLITE_AUTH')
    return {
      code: 'archive-read-only',
      message: `${path} cannot be opened or created (${code}).`,
      remedy: 'Check that the folder exists and that you may write in it, or choose another archive.',
    }
  if (code === 'SQLITE_CONSTRAINT_UNIQUE' || code === 'SQLITE_CONSTRAINT_PRIMARYKEY')
    return { code: 'conflict', message: `This is already in the archive: ${message}.`, remedy: '' }
  if (code === 'SQLITE_CONSTRAINT_FOREIGNKEY')
    return { code: 'not-found', message: 'The entry refers to something that is not in the archive.', remedy: '' }
  if (code === 'SQLITE_CONSTRAINT_TRIGGER') return { code: 'conflict', message: `Refused: ${message}.`, remedy: '' }
  if (code.startsWith('SQLITE_CONSTRAINT') || code === 'SQLITE_TOOBIG' || code === 'SQLITE_MISMATCH')
    return { code: 'invalid-input', message: `The archive refused a value: ${message}.`, remedy: '' }
  return { code: 'internal', message: `${message} (${code})`, remedy: '' }
}
