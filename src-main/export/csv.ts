/** CSV by RFC 4180: CRLF, a title line, quotes where needed, UTF-8 without mark; an absent value is an empty cell. */
import { stringify } from 'csv-stringify/sync'
import { AppError } from '#shared/domain/errors.ts'
import { harmlessCell } from '#shared/domain/harmless-cell.ts'
import type { ExportFile } from '#main/core/ports.ts'

export type Cell = string | number | null

/** A table that is produced piece by piece, so that no export has to fit in memory. */
export interface Table {
  /** Proposed file name. */
  readonly name: string
  readonly columns: readonly string[]
  /** Rows the table must have; an export with another number fails. */
  readonly rows: number
  /** Batches of rows. */
  batches(signal?: AbortSignal): AsyncIterable<readonly (readonly Cell[])[]>
}

/** Text of some rows. Numbers are written as the shortest decimal that reads back to the same double. */
export function csvText(rows: readonly (readonly Cell[])[]): string {
  // Numbers never need quotes; a trace has millions of them.
  if (rows.every((row) => row.every((cell) => typeof cell === 'number')))
    return rows.map((row) => `${row.join(',')}\r\n`).join('')
  return stringify(
    rows.map((row) => row.map(harmlessCell)),
    {
      record_delimiter: 'windows',
      quoted_match: /[\r\n]/,
      cast: { number: (value) => String(value) },
    },
  )
}

interface CsvChunk {
  readonly text: string
  /** Rows written so far, without the title line. */
  readonly rows: number
}

/** The table as text, title line first. Rejects with `internal` when rows are missing at the end, `cancelled` on abort. */
async function* csvChunks(table: Table, signal?: AbortSignal): AsyncGenerator<CsvChunk> {
  let rows = 0
  yield { text: csvText([table.columns]), rows }
  for await (const batch of table.batches(signal)) {
    stopIfAborted(signal)
    rows += batch.length
    yield { text: csvText(batch), rows }
  }
  if (rows !== table.rows)
    throw new AppError(
      'internal',
      `The export has ${rows} rows, but ${table.rows} were expected.`,
      'Something changed while it was written; export again.',
    )
}

export function stopIfAborted(signal: AbortSignal | undefined): void {
  if (signal?.aborted) throw new AppError('cancelled', 'The export was cancelled; no file was written.')
}

/** The table as a file that is made while it is read. */
export function tableFile(table: Table): ExportFile {
  const encoder = new TextEncoder()
  return {
    name: table.name,
    unit: 'rows',
    total: table.rows,
    async *pieces(signal) {
      for await (const { text, rows } of csvChunks(table, signal)) yield { bytes: encoder.encode(text), done: rows }
    },
  }
}
