import { AppError } from '#shared/domain/errors.ts'
import { MAX_CGATS_BYTES } from '#shared/import/cgats.ts'
import { decodeText } from '#shared/import/decode.ts'

/** The text of a chosen table. Throws `import-unreadable` for one too large to be a table, before it is read. */
export async function textOfFile(file: File): Promise<string> {
  if (file.size > MAX_CGATS_BYTES)
    throw new AppError('import-unreadable', 'The file is larger than 16 MiB.', 'A table of one display is far smaller.')
  return decodeText(new Uint8Array(await file.arrayBuffer()))
}
