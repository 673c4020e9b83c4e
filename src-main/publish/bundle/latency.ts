/** Raw records of input latency in a bundle: written event by event, and the readings made of them again. */
import { createHash } from 'node:crypto'
import { stat, writeFile } from 'node:fs/promises'
import { join } from 'node:path'
import { asyncBufferFromFile, parquetMetadataAsync, parquetReadObjects } from 'hyparquet'
import { fileWriter } from 'hyparquet-writer'
import { z } from 'zod'
import { bundleLatencyRunSchema, type BundleLatencyRun, type BundleSubject } from '#shared/domain/bundle.ts'
import type { RawTrace } from '#shared/domain/capture.ts'
import { AppError } from '#shared/domain/errors.ts'
import type { LatencyEvent } from '#shared/domain/latency.ts'
import type { Reading } from '#shared/domain/reading.ts'
import { latencyReading } from '#shared/latency/reading.ts'
import { differences } from './compare.ts'
import { type Add, attempt, textOf } from './read.ts'
import { eventRow, eventTable } from './tables.ts'

export const LATENCY_RUNS = 'data/latency.json'
export const LATENCY_EVENTS = 'data/latency.parquet'
/** Events in one row group. */
const GROUP = 100

const bytesOf = ({ samples }: RawTrace): Uint8Array =>
  new Uint8Array(samples.buffer, samples.byteOffset, samples.byteLength)

/** SHA-256 over an event's samples in little-endian order, then what makes volts and seconds of them, as JSON. */
function eventHash({ trace, second, triggerIndex, handlerMs }: LatencyEvent): string {
  const { sampleRateHz, scaleV, offsetV, rangeV } = trace
  const hash = createHash('sha256').update(bytesOf(trace))
  if (second !== null) hash.update(bytesOf(second))
  return hash.update(JSON.stringify([sampleRateHz, scaleV, offsetV, rangeV, triggerIndex, handlerMs])).digest('hex')
}

/** Nothing is written where no latency was measured. */
export async function writeLatency(
  folder: string,
  { runs, events }: NonNullable<BundleSubject['latency']>,
  signal: AbortSignal | undefined,
): Promise<void> {
  const table = eventTable(fileWriter(join(folder, LATENCY_EVENTS)))
  const records = new Map(runs.map(({ id }) => [id, [] as BundleLatencyRun['records']]))
  let group: LatencyEvent[] = []
  const flush = async (): Promise<void> => {
    if (group.length > 0) await table.write(group.map(eventRow))
    group = []
  }
  for await (const event of events) {
    if (signal?.aborted === true) throw new AppError('cancelled', 'Stopped.')
    const { runId, position, takenAt } = event
    records.get(runId)?.push({ position, takenAt, sha256: eventHash(event) })
    group.push(event)
    if (group.length === GROUP) await flush()
  }
  await flush()
  await table.finish()
  const told = runs.map(({ id, campaignId, plan, rigIdentity, startedAt, readingId }): BundleLatencyRun => ({
    id,
    campaignId,
    plan,
    rigIdentity,
    startedAt,
    readingId,
    records: records.get(id) ?? [],
  }))
  await writeFile(join(folder, LATENCY_RUNS), `${JSON.stringify(told, null, 2)}\n`)
}

const samples = z.array(z.number()).nullish()
const eventRowSchema = z.object({
  run_id: z.number(),
  position: z.number(),
  taken_at: z.string(),
  sample_rate_hz: z.number().positive(),
  scale_v: z.number(),
  offset_v: z.number(),
  range_v: z.number().positive(),
  trigger_index: z.number(),
  handler_ms: z.number().nullish(),
  codes: samples,
  volts: samples,
  second_codes: samples,
  second_volts: samples,
})

function eventOf(row: unknown): LatencyEvent {
  const one = eventRowSchema.parse(row)
  const common = {
    sampleRateHz: one.sample_rate_hz,
    scaleV: one.scale_v,
    offsetV: one.offset_v,
    rangeV: one.range_v,
  }
  const traceOf = (
    codes: readonly number[] | null | undefined,
    volts: readonly number[] | null | undefined,
  ): RawTrace =>
    codes == null
      ? { ...common, format: 'real32', samples: Float32Array.from(volts ?? []) }
      : { ...common, format: 'int16', samples: Int16Array.from(codes) }
  return {
    runId: one.run_id,
    position: one.position,
    takenAt: one.taken_at,
    trace: traceOf(one.codes, one.volts),
    second: one.second_codes == null && one.second_volts == null ? null : traceOf(one.second_codes, one.second_volts),
    triggerIndex: one.trigger_index,
    handlerMs: one.handler_ms ?? null,
  }
}

/** Every event of the table; groups and rows that cannot be read are told. */
async function* eventsIn(folder: string, add: Add): AsyncGenerator<LatencyEvent> {
  const file = await asyncBufferFromFile(join(folder, LATENCY_EVENTS))
  const metadata = await parquetMetadataAsync(file)
  let rowStart = 0
  for (const { num_rows: count } of metadata.row_groups) {
    const start = rowStart
    rowStart += Number(count)
    const place = `rows ${start + 1} to ${rowStart}`
    const rows = await attempt(add, LATENCY_EVENTS, place, () =>
      parquetReadObjects({ file, metadata, rowStart: start, rowEnd: rowStart }),
    )
    for (const [i, row] of (rows ?? []).entries()) {
      const event = await attempt(add, LATENCY_EVENTS, `row ${start + i + 1}`, async () => eventOf(row))
      if (event !== null) yield event
    }
  }
}

/** Holds every record against its hash and makes the readings again; answers how many numbers were compared. */
export async function checkLatency(folder: string, readings: readonly Reading[], add: Add): Promise<number> {
  const there = await stat(join(folder, LATENCY_RUNS)).catch(() => null)
  if (there === null) return 0
  const runs = await attempt(add, LATENCY_RUNS, '', async () =>
    z.array(bundleLatencyRunSchema).parse(JSON.parse(await textOf(folder, LATENCY_RUNS))),
  )
  if (runs === null) return 0
  const events = new Map(runs.map(({ id }) => [id, [] as LatencyEvent[]]))
  await attempt(add, LATENCY_EVENTS, '', async () => {
    for await (const event of eventsIn(folder, add)) {
      const place = `run ${event.runId}, event ${event.position}`
      const own = events.get(event.runId)
      if (own === undefined) add(LATENCY_EVENTS, place, `Its run is not in ${LATENCY_RUNS}.`)
      else own.push(event)
    }
    return true
  })
  let numbers = 0
  for (const run of runs) numbers += await checkRun(run, events.get(run.id) ?? [], readings, add)
  return numbers
}

async function checkRun(
  run: BundleLatencyRun,
  events: readonly LatencyEvent[],
  readings: readonly Reading[],
  add: Add,
): Promise<number> {
  const hashes = new Map(run.records.map(({ position, sha256 }) => [position, sha256]))
  for (const event of events) {
    const place = `run ${run.id}, event ${event.position}`
    const published = hashes.get(event.position)
    if (published === undefined) add(LATENCY_EVENTS, place, `It is not in ${LATENCY_RUNS}, or comes twice.`)
    else if (published !== eventHash(event)) add(LATENCY_EVENTS, place, 'Its record is not the one that was published.')
    hashes.delete(event.position)
  }
  for (const position of hashes.keys())
    add(LATENCY_EVENTS, `run ${run.id}, event ${position}`, 'Its record is missing.')
  if (run.readingId === null) return events.length
  // One that was left out of the record is not published.
  const reading = readings.find(({ id }) => id === run.readingId)
  if (reading === undefined) return events.length
  const again = await latencyReading(run, events)
  const published = Object.fromEntries(Object.keys(again ?? {}).map((key) => [key, reading[key as keyof Reading]]))
  for (const one of differences(again === null ? reading : published, again))
    add(
      'data/archive.json',
      `reading ${reading.id}, ${one.place}`,
      `Published ${one.published}, made of the records of latency run ${run.id} again ${one.again}.`,
    )
  return events.length + (reading.series?.length ?? 0)
}
