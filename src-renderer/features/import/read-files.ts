/** Brings chosen files to the host in pieces and asks what is in them, a few at a time, in the order of the list. */
import { AppError, type ErrorDetail } from '#shared/domain/errors.ts'
import type { ImportMapping, ImportPreview } from '#shared/domain/import.ts'
import { sendFile, type FileBytes, type Stage } from '../../client/send-file.ts'
import type { Reading } from './desk-model.ts'

/** What is used of the client. */
export interface FileCalls extends Stage {
  importPreview(input: { fileId: string; name: string; mapping: ImportMapping | null }): Promise<ImportPreview>
}

export interface Wanted {
  readonly key: number
  readonly name: string
  readonly mapping: ImportMapping | null
}

export interface FileReaderEvents {
  readonly describe: (error: unknown) => ErrorDetail
  readonly onReading: (key: number, reading: Reading) => void
}

/** Files under way at the same time: one is sent while the host reads another. */
const AT_ONCE = 2

interface Known {
  readonly source: FileBytes
  fileId: string | null
  /** The mapping read last or being read, as text; null when it has to be read anew. */
  mapping: string | null
}

export class FileReading {
  readonly #events: FileReaderEvents
  readonly #known = new Map<number, Known>()
  #calls: FileCalls | null = null
  #wanted: readonly Wanted[] = []
  #active = 0

  constructor(events: FileReaderEvents) {
    this.#events = events
  }

  add(key: number, source: FileBytes): void {
    this.#known.set(key, { source, fileId: null, mapping: null })
  }

  /** The host can be asked (or not, for null). Behind a new line may be a host that holds nothing: all is asked anew. */
  use(calls: FileCalls | null): void {
    if (calls === this.#calls) return
    this.#calls = calls
    if (calls !== null) for (const known of this.#known.values()) known.mapping = null
    this.#run()
  }

  /** What is to be known now; what is known already is not asked again. */
  want(wanted: readonly Wanted[]): void {
    this.#wanted = wanted
    this.#run()
  }

  #run(): void {
    const calls = this.#calls
    if (calls === null) return
    for (const wanted of this.#wanted) {
      if (this.#active >= AT_ONCE) return
      const known = this.#known.get(wanted.key)
      const mapping = JSON.stringify(wanted.mapping)
      if (known === undefined || known.mapping === mapping) continue
      known.mapping = mapping
      this.#active += 1
      void this.#read(calls, wanted, known, mapping).finally(() => {
        this.#active -= 1
        this.#run()
      })
    }
  }

  async #read(calls: FileCalls, wanted: Wanted, known: Known, mapping: string): Promise<void> {
    this.#events.onReading(wanted.key, { kind: 'reading' })
    let reading: Reading
    try {
      reading = { kind: 'read', ...(await preview(calls, wanted, known)) }
    } catch (error) {
      const problem = this.#events.describe(error)
      // The line broke: it waits until `use` tells of the next one.
      const lost = calls !== this.#calls || problem.code === 'cancelled'
      if (lost && this.#calls === calls) this.#calls = null
      if (lost && known.mapping === mapping) known.mapping = null
      reading = lost ? { kind: 'waiting' } : { kind: 'failed', problem }
    }
    // Overtaken by another mapping: that one's answer counts.
    if (known.mapping === mapping || reading.kind === 'waiting') this.#events.onReading(wanted.key, reading)
  }
}

async function preview(
  calls: FileCalls,
  { name, mapping }: Wanted,
  known: Known,
): Promise<{ fileId: string; preview: ImportPreview }> {
  if (known.fileId !== null)
    try {
      return { fileId: known.fileId, preview: await calls.importPreview({ fileId: known.fileId, name, mapping }) }
    } catch (error) {
      // A host that was started again holds nothing any more.
      if (!(error instanceof AppError) || error.code !== 'not-found') throw error
      known.fileId = null
    }
  const fileId = await sendFile(calls, known.source)
  known.fileId = fileId
  return { fileId, preview: await calls.importPreview({ fileId, name, mapping }) }
}
