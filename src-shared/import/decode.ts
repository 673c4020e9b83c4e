import { AppError } from '#shared/domain/errors.ts'

/** Largest file that is read, bytes; about ten million samples as text. */
export const MAX_IMPORT_BYTES = 256 * 1024 * 1024

interface Decoder {
  decode(bytes: Uint8Array): string
}
// TextDecoder is part of every runtime this code meets, but of no ECMAScript library definition.
const { TextDecoder } = globalThis as unknown as {
  TextDecoder: new (label: string, options?: { fatal?: boolean }) => Decoder
}

/** Share of zero bytes among the even and among the odd places of the first bytes. */
function zeroShares(bytes: Uint8Array): { even: number; odd: number } {
  const count = Math.min(bytes.length, 4096) & ~1
  let even = 0
  let odd = 0
  for (let i = 0; i < count; i += 2) {
    if (bytes[i] === 0) even += 1
    if (bytes[i + 1] === 0) odd += 1
  }
  return { even: (2 * even) / Math.max(count, 1), odd: (2 * odd) / Math.max(count, 1) }
}

function encodingOf(bytes: Uint8Array): string {
  if (bytes[0] === 0xff && bytes[1] === 0xfe) return 'utf-16le'
  if (bytes[0] === 0xfe && bytes[1] === 0xff) return 'utf-16be'
  // Digits in UTF-16 have a zero byte each; in a table nearly every character is one.
  const { even, odd } = zeroShares(bytes)
  if (odd > 0.4 && even < 0.05) return 'utf-16le'
  if (even > 0.4 && odd < 0.05) return 'utf-16be'
  return 'utf-8'
}

/**
 * Text of a file, its encoding recognised: byte order marks, UTF-8, UTF-16 also without a mark, else Windows-1252
 * (where the µ of older instruments is). The mark is not part of the text. Throws `import-unreadable` for an empty
 * file, one larger than MAX_IMPORT_BYTES and one that is no text.
 */
export function decodeText(bytes: Uint8Array): string {
  if (bytes.length === 0)
    throw new AppError('import-unreadable', 'The file is empty.', 'Choose a file with recorded samples.')
  if (bytes.length > MAX_IMPORT_BYTES)
    throw new AppError(
      'import-unreadable',
      `The file has ${(bytes.length / 2 ** 20).toFixed(0)} MiB; at most ${MAX_IMPORT_BYTES / 2 ** 20} MiB are read.`,
      'Save a shorter span or fewer samples per second.',
    )
  const encoding = encodingOf(bytes)
  return checkedText(encoding === 'utf-8' ? decodeUtf8(bytes) : new TextDecoder(encoding).decode(bytes))
}

function decodeUtf8(bytes: Uint8Array): string {
  try {
    return new TextDecoder('utf-8', { fatal: true }).decode(bytes)
  } catch {
    return new TextDecoder('windows-1252').decode(bytes)
  }
}

/** The text without byte order mark; throws `import-unreadable` when it holds characters no text has. */
export function checkedText(text: string): string {
  const clean = text.startsWith('\uFEFF') ? text.slice(1) : text
  const nul = clean.indexOf('\0')
  if (nul >= 0)
    throw new AppError(
      'import-unreadable',
      `This is not a text file: it has a zero byte at character ${nul + 1}.`,
      'Save the recording as CSV text; binary formats of instruments are not read.',
    )
  if (clean.trim() === '')
    throw new AppError('import-unreadable', 'The file has no text in it.', 'Choose a file with recorded samples.')
  return clean
}
