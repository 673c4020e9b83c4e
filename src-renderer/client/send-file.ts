/** Brings a chosen file to the host in pieces: no message grows with the file. */
import { AppError } from '#shared/domain/errors.ts'
import { MAX_STAGED_PIECE_BYTES } from '#shared/domain/import.ts'

/** What is used of the client. */
export interface Stage {
  stage(input: { fileId: string | null; bytes: Uint8Array<ArrayBuffer> }): Promise<{ fileId: string }>
}

/** What is used of a browser's File. */
export interface FileBytes {
  readonly size: number
  slice(start: number, end: number): { arrayBuffer(): Promise<ArrayBuffer> }
}

/** The file's number at the host. `import-unreadable` when the browser cannot read it any more. */
export async function sendFile(calls: Stage, source: FileBytes): Promise<string> {
  let fileId: string | null = null
  let at = 0
  do {
    // Pieces of one file go one after the other.
    // oxlint-disable-next-line no-await-in-loop
    const bytes: Uint8Array<ArrayBuffer> = new Uint8Array(await bytesOf(source, at))
    // oxlint-disable-next-line no-await-in-loop
    ;({ fileId } = await calls.stage({ fileId, bytes }))
    at += bytes.length
    if (bytes.length === 0) break
  } while (at < source.size)
  return fileId
}

async function bytesOf(source: FileBytes, at: number): Promise<ArrayBuffer> {
  try {
    return await source.slice(at, Math.min(source.size, at + MAX_STAGED_PIECE_BYTES)).arrayBuffer()
  } catch (error) {
    throw new AppError(
      'import-unreadable',
      'The file cannot be read: it was moved, changed or is not permitted to be read since it was chosen.',
      'Remove it from the list and choose it again.',
      { cause: error },
    )
  }
}
