import type { ExportFile } from '#main/core/ports.ts'

/** An export read to its end. */
export async function wholeFile(file: ExportFile): Promise<{ name: string; bytes: Uint8Array }> {
  const pieces: Uint8Array[] = []
  for await (const { bytes } of file.pieces()) pieces.push(bytes)
  return { name: file.name, bytes: Buffer.concat(pieces) }
}

export async function wholeText(file: ExportFile): Promise<{ name: string; text: string }> {
  const { name, bytes } = await wholeFile(file)
  return { name, text: new TextDecoder().decode(bytes) }
}
