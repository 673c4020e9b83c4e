import type { ExportStep } from '#shared/contract/exports.ts'

/** Pieces are handed to the browser from time to time; it keeps large files outside the page's memory. */
const HELD_BYTES = 8 * 1024 * 1024

/** The file of an export's steps, with its name. */
export async function collect(steps: AsyncIterable<ExportStep>): Promise<{ name: string; content: Blob }> {
  let name = ''
  let held: Uint8Array<ArrayBuffer>[] = []
  let heldBytes = 0
  const parts: Blob[] = []
  const hand = (): void => {
    parts.push(new Blob(held))
    held = []
    heldBytes = 0
  }
  for await (const step of steps) {
    if (step.kind === 'file') name = step.name
    else {
      held.push(step.bytes as Uint8Array<ArrayBuffer>)
      heldBytes += step.bytes.length
      if (heldBytes >= HELD_BYTES) hand()
    }
  }
  hand()
  return { name, content: new Blob(parts) }
}
