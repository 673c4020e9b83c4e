/** Reading the files of a bundle for checking: as much of a damaged one as can be read. */
import { readFile, stat } from 'node:fs/promises'
import { join } from 'node:path'
import { parse } from 'csv-parse/sync'
import { asyncBufferFromFile, type FileMetaData, parquetMetadataAsync, parquetReadObjects } from 'hyparquet'
import { z } from 'zod'
import type { RawTrace } from '#shared/domain/capture.ts'
import { AppError, toErrorDetail } from '#shared/domain/errors.ts'
import { type Override, overrideSchema } from '#shared/domain/views.ts'
import { isPlain } from './manifest.ts'
import { RESULT_COLUMNS } from './tables.ts'

export type Add = (file: string, place: string, problem: string) => void
export type Row = Readonly<Record<string, unknown>>

const csvRowSchema = z.array(z.record(z.string(), z.string()))

/** What a reader answers, or null with the problem told. Only a stop by the caller rejects (`cancelled`). */
export async function attempt<T>(add: Add, file: string, place: string, read: () => Promise<T>): Promise<T | null> {
  try {
    return await read()
  } catch (error) {
    if (error instanceof Error && error.name === 'AbortError') throw new AppError('cancelled', 'Stopped.')
    const why = error instanceof z.ZodError ? z.prettifyError(error) : toErrorDetail(error).message
    add(file, place, `It cannot be read: ${why}`)
    return null
  }
}

/** Longest text of a bundle; the table of 100,000 results is a third of this. */
const MOST_TEXT_BYTES = 256 * 2 ** 20

async function openPlain(folder: string, path: string): ReturnType<typeof asyncBufferFromFile> {
  if (!(await isPlain(folder, path))) throw new Error('it is not a regular file')
  return asyncBufferFromFile(join(folder, path))
}

/** Rejects with `import-unreadable`. */
export async function textOf(folder: string, path: string): Promise<string> {
  try {
    if (!(await isPlain(folder, path))) throw new Error('it is not a regular file')
    if ((await stat(join(folder, path))).size > MOST_TEXT_BYTES)
      throw new Error('it is longer than any text of a bundle')
    return await readFile(join(folder, path), 'utf8')
  } catch (error) {
    throw new AppError(
      'import-unreadable',
      `${path} cannot be read: ${toErrorDetail(error).message}`,
      'Choose the folder or zip of a bundle.',
    )
  }
}

export const csvRows = (text: string): Record<string, string>[] => csvRowSchema.parse(parse(text, { columns: true }))

/** Rows of the table of results; a column that cannot be read is told by name and taken from the CSV. */
export async function resultRows(
  folder: string,
  path: string,
  csv: readonly Readonly<Record<string, string>>[] | null,
  add: Add,
): Promise<Row[] | null> {
  const file = await openPlain(folder, path)
  const whole = await parquetReadObjects({ file }).catch(() => null)
  if (whole !== null) return whole
  const metadata = await attempt(add, path, '', () => parquetMetadataAsync(file))
  const rows: Record<string, unknown>[] = (csv ?? []).map(() => ({}))
  for (const { name, type } of RESULT_COLUMNS) {
    const column =
      metadata === null
        ? null
        : await attempt(add, path, `column ${name}`, () => parquetReadObjects({ file, metadata, columns: [name] }))
    if (column === null && csv === null) return null
    rows.forEach((row, i) => {
      row[name] = column === null ? typed(csv?.[i]?.[name] ?? '', type) : column[i]?.[name]
    })
  }
  return rows
}

function typed(text: string, type: string | undefined): unknown {
  if (type === 'BYTE_ARRAY') return text
  if (text === '') return null
  return type === 'BOOLEAN' ? text === 'true' : Number(text)
}

const traceRowSchema = z.object({
  capture_id: z.number(),
  sample_rate_hz: z.number().positive(),
  scale_v: z.number(),
  offset_v: z.number(),
  range_v: z.number().positive(),
  trigger_index: z.number(),
  marks_by_hand: z.string().nullish(),
  codes: z.array(z.number()).nullish(),
  volts: z.array(z.number()).nullish(),
})

export interface BundleTrace {
  readonly captureId: number
  readonly trace: RawTrace
  readonly triggerIndex: number
  readonly override: Override | null
}

function traceOf(row: unknown): BundleTrace {
  const { codes, volts, marks_by_hand: marks, ...one } = traceRowSchema.parse(row)
  return {
    captureId: one.capture_id,
    trace: {
      sampleRateHz: one.sample_rate_hz,
      scaleV: one.scale_v,
      offsetV: one.offset_v,
      rangeV: one.range_v,
      ...(codes == null
        ? { format: 'real32', samples: Float32Array.from(volts ?? []) }
        : { format: 'int16', samples: Int16Array.from(codes) }),
    },
    triggerIndex: one.trigger_index,
    override: marks == null ? null : overrideSchema.parse(JSON.parse(marks)),
  }
}

/** The table of raw traces: one pass over all, then single ones again, so that no more than a group is in memory. */
export class TraceFile {
  readonly #folder: string
  readonly #path: string
  readonly #rowOf = new Map<number, number>()
  #open: { readonly file: Awaited<ReturnType<typeof asyncBufferFromFile>>; readonly metadata: FileMetaData } | null =
    null

  constructor(folder: string, path: string) {
    this.#folder = folder
    this.#path = path
  }

  /** Rows that can be read; groups that cannot are told by their rows. */
  async *all(add: Add): AsyncGenerator<BundleTrace> {
    const { file, metadata } = await this.#opened()
    let rowStart = 0
    for (const group of metadata.row_groups) {
      const start = rowStart
      const rowEnd = start + Number(group.num_rows)
      const place = `rows ${start + 1} to ${rowEnd}`
      const rows = await attempt(add, this.#path, place, () =>
        parquetReadObjects({ file, metadata, rowStart: start, rowEnd }),
      )
      for (const [i, row] of (rows ?? []).entries()) {
        const trace = await attempt(add, this.#path, `row ${start + i + 1}`, async () => traceOf(row))
        if (trace === null) continue
        this.#rowOf.set(trace.captureId, start + i)
        yield trace
      }
      rowStart = rowEnd
    }
  }

  /** Captures that the pass over all has seen. */
  async some(captureIds: readonly number[]): Promise<BundleTrace[]> {
    const { file, metadata } = await this.#opened()
    const found: BundleTrace[] = []
    for (const id of captureIds) {
      const rowStart = this.#rowOf.get(id)
      if (rowStart === undefined) continue
      const [row] = await parquetReadObjects({ file, metadata, rowStart, rowEnd: rowStart + 1 })
      found.push(traceOf(row))
    }
    return found
  }

  async #opened() {
    if (this.#open === null) {
      const file = await openPlain(this.#folder, this.#path)
      this.#open = { file, metadata: await parquetMetadataAsync(file) }
    }
    return this.#open
  }
}
