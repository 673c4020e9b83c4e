import { createHash } from 'node:crypto'
import { ParquetWriter, type SchemaElement, type Writer } from 'hyparquet-writer'
import { MEASURE_IDS } from '#shared/domain/measures.ts'
import type { BundleCapture, BundleSweep } from '#shared/domain/bundle.ts'
import type { RawTrace } from '#shared/domain/capture.ts'
import type { LatencyEvent } from '#shared/domain/latency.ts'

type Row = Readonly<Record<string, unknown>>

const MADE_BY = 'slewlight'
const required = (name: string, type: SchemaElement['type'], more: Partial<SchemaElement> = {}): SchemaElement => ({
  name,
  ...(type === undefined ? {} : { type }),
  repetition_type: 'REQUIRED',
  ...more,
})
const optional = (name: string, type: SchemaElement['type'], more: Partial<SchemaElement> = {}): SchemaElement => ({
  ...required(name, type, more),
  repetition_type: 'OPTIONAL',
})
const text = { converted_type: 'UTF8' } as const
const list = (name: string, type: SchemaElement['type']): SchemaElement[] => [
  { name, repetition_type: 'OPTIONAL', num_children: 1, converted_type: 'LIST' },
  { name: 'list', repetition_type: 'REPEATED', num_children: 1 },
  { name: 'element', ...(type === undefined ? {} : { type }), repetition_type: 'REQUIRED' },
]

/** Columns of the table of results, in order; CSV and Parquet have the same. */
export const RESULT_COLUMNS: readonly SchemaElement[] = [
  required('capture_id', 'INT32'),
  required('sweep_id', 'INT32'),
  required('setting', 'BYTE_ARRAY', text),
  required('refresh_hz', 'DOUBLE'),
  required('from_code', 'INT32'),
  required('to_code', 'INT32'),
  required('repeat', 'INT32'),
  required('attempt', 'INT32'),
  required('verdict', 'BYTE_ARRAY', text),
  required('taken_at', 'BYTE_ARRAY', text),
  required('excluded', 'BOOLEAN'),
  required('flags', 'BYTE_ARRAY', text),
  required('trace_sha256', 'BYTE_ARRAY', text),
  ...MEASURE_IDS.flatMap((id) => [optional(id, 'DOUBLE'), optional(`u_${id}`, 'DOUBLE')]),
]

const TRACE_COLUMNS: readonly SchemaElement[] = [
  required('capture_id', 'INT32'),
  required('sample_rate_hz', 'DOUBLE'),
  required('scale_v', 'DOUBLE'),
  required('offset_v', 'DOUBLE'),
  required('range_v', 'DOUBLE'),
  required('trigger_index', 'INT32'),
  optional('marks_by_hand', 'BYTE_ARRAY', text),
  ...list('codes', 'INT32'),
  ...list('volts', 'FLOAT'),
]

const EVENT_COLUMNS: readonly SchemaElement[] = [
  required('run_id', 'INT32'),
  required('position', 'INT32'),
  required('taken_at', 'BYTE_ARRAY', text),
  required('sample_rate_hz', 'DOUBLE'),
  required('scale_v', 'DOUBLE'),
  required('offset_v', 'DOUBLE'),
  required('range_v', 'DOUBLE'),
  required('trigger_index', 'INT32'),
  optional('handler_ms', 'DOUBLE'),
  ...list('codes', 'INT32'),
  ...list('volts', 'FLOAT'),
  ...list('second_codes', 'INT32'),
  ...list('second_volts', 'FLOAT'),
]

/** One event of a latency run: samples of the light, and of the channel that carries the event where there is one. */
export const eventRow = ({ runId, position, takenAt, trace, second, triggerIndex, handlerMs }: LatencyEvent): Row => ({
  run_id: runId,
  position,
  taken_at: takenAt,
  sample_rate_hz: trace.sampleRateHz,
  scale_v: trace.scaleV,
  offset_v: trace.offsetV,
  range_v: trace.rangeV,
  trigger_index: triggerIndex,
  handler_ms: handlerMs,
  codes: samplesAs('int16', trace),
  volts: samplesAs('real32', trace),
  second_codes: samplesAs('int16', second),
  second_volts: samplesAs('real32', second),
})

const samplesAs = (format: RawTrace['format'], trace: RawTrace | null): number[] | null =>
  trace?.format === format ? Array.from(trace.samples) : null

/** One row of the table of results. Flags stand in one text, names parted by blanks. */
export function resultRow(capture: BundleCapture, sweep: BundleSweep): Row {
  const { result } = capture
  const row: Record<string, unknown> = {
    capture_id: capture.captureId,
    sweep_id: capture.sweepId,
    setting: sweep.setting,
    refresh_hz: sweep.refreshHz,
    from_code: capture.from,
    to_code: capture.to,
    repeat: capture.repeat,
    attempt: capture.attempt,
    verdict: capture.verdict,
    taken_at: capture.takenAt,
    excluded: capture.excluded,
    flags: (result?.flags ?? []).map(({ id }) => id).join(' '),
    trace_sha256: traceHash(capture),
  }
  for (const id of MEASURE_IDS) {
    row[id] = result?.values[id] ?? null
    row[`u_${id}`] = result?.uncertainties[id] ?? null
  }
  return row
}

/** SHA-256 over a raw trace: samples in little-endian order, then what makes volts and seconds of them, as JSON. */
export function traceHash({
  trace,
  triggerIndex,
  override,
}: Pick<BundleCapture, 'trace' | 'triggerIndex' | 'override'>): string {
  const { samples, sampleRateHz, scaleV, offsetV, rangeV } = trace
  return createHash('sha256')
    .update(new Uint8Array(samples.buffer, samples.byteOffset, samples.byteLength))
    .update(JSON.stringify([sampleRateHz, scaleV, offsetV, rangeV, triggerIndex, override]))
    .digest('hex')
}

export function traceRow({ captureId, trace, triggerIndex, override }: BundleCapture): Row {
  return {
    capture_id: captureId,
    sample_rate_hz: trace.sampleRateHz,
    scale_v: trace.scaleV,
    offset_v: trace.offsetV,
    range_v: trace.rangeV,
    trigger_index: triggerIndex,
    marks_by_hand: override === null ? null : JSON.stringify(override),
    codes: trace.format === 'int16' ? Array.from(trace.samples) : null,
    volts: trace.format === 'real32' ? Array.from(trace.samples) : null,
  }
}

/**
 * A Parquet file written group by group, so that no more than one group is in memory. Snappy and no time stamp: the
 * same rows give the same bytes.
 */
export class TableFile {
  readonly #columns: readonly SchemaElement[]
  readonly #parquet: ParquetWriter

  constructor(writer: Writer, columns: readonly SchemaElement[]) {
    this.#columns = columns
    const tops = topLevel(columns)
    this.#parquet = new ParquetWriter({
      writer,
      schema: [{ name: 'root', num_children: tops.length }, ...columns],
      codec: 'SNAPPY',
      createdBy: MADE_BY,
    })
  }

  async write(rows: readonly Row[]): Promise<void> {
    const columnData = topLevel(this.#columns).map(({ name }) => ({
      name,
      data: rows.map((row) => row[name]),
      ...(name === 'codes' || name === 'second_codes' ? { encoding: 'DELTA_BINARY_PACKED' as const } : {}),
    }))
    await this.#parquet.write({ columnData, rowGroupSize: rows.length })
  }

  async finish(): Promise<void> {
    await this.#parquet.finish()
  }
}

export const resultTable = (writer: Writer): TableFile => new TableFile(writer, RESULT_COLUMNS)
export const eventTable = (writer: Writer): TableFile => new TableFile(writer, EVENT_COLUMNS)
export const traceTable = (writer: Writer): TableFile => new TableFile(writer, TRACE_COLUMNS)

/** A list takes three schema elements; the first names the column. */
const topLevel = (columns: readonly SchemaElement[]): SchemaElement[] =>
  columns.filter(({ name }) => name !== 'list' && name !== 'element')

/** A value as the table of results writes it: shortest text that reads back to the same number, empty for none. */
export const csvText = (value: unknown): string =>
  typeof value === 'string' ? value : value === null || value === undefined ? '' : JSON.stringify(value)
