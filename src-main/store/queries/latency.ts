/** Runs of input latency and the raw records of their events. */
import type { RawTrace, SampleFormat } from '#shared/domain/capture.ts'
import { AppError } from '#shared/domain/errors.ts'
import type { LatencyEvent, LatencyPlan, LatencyRun, NewLatencyRun } from '#shared/domain/latency.ts'
import type { Archive } from '../archive.ts'
import { samplesOf, toBlob } from '../codec.ts'
import { crc32Of } from '#main/core/crc32.ts'

interface RunRecord extends Omit<LatencyRun, 'plan'> {
  readonly plan: string
}

const RUN = `SELECT id, campaign_id AS campaignId, plan, rig_identity AS rigIdentity, started_at AS startedAt,
  (SELECT count(*) FROM latency_event e WHERE e.run_id = r.id) AS events, reading_id AS readingId FROM latency_run r`

const runOf = (row: RunRecord): LatencyRun => ({ ...row, plan: JSON.parse(row.plan) as LatencyPlan })

export function createLatencyRun(archive: Archive, run: NewLatencyRun): LatencyRun {
  return archive.write(() => {
    if (archive.sql('SELECT 1 FROM campaign WHERE id = ?').get(run.campaignId) === undefined)
      throw new AppError('not-found', `Campaign ${run.campaignId} is not in the archive.`)
    const { lastInsertRowid } = archive
      .sql('INSERT INTO latency_run (campaign_id, plan, rig_identity, started_at) VALUES (?, ?, ?, ?)')
      .run(run.campaignId, JSON.stringify(run.plan), run.rigIdentity, archive.at)
    return runOf(archive.sql(`${RUN} WHERE id = ?`).get(Number(lastInsertRowid)) as RunRecord)
  })
}

/** In the order they were begun; all campaigns' without one. */
export function latencyRuns(archive: Archive, query: { readonly campaignId?: number | undefined }): LatencyRun[] {
  const rows = archive
    .sql(`${RUN} WHERE @campaign = 0 OR campaign_id = @campaign ORDER BY id`)
    .all({ campaign: query.campaignId ?? 0 })
  return (rows as RunRecord[]).map(runOf)
}

/** One transaction: all of the event's record is on disk when this returns, or none of it. */
export function addLatencyEvent(archive: Archive, event: LatencyEvent): null {
  const { trace } = event
  const samples = toBlob(trace.samples)
  const second = event.second === null ? null : toBlob(event.second.samples)
  archive.write(() =>
    archive
      .sql(
        `INSERT INTO latency_event (run_id, position, taken_at, format, sample_rate_hz, scale_v, offset_v, range_v,
           trigger_index, handler_ms, samples, second_samples, crc32) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)`,
      )
      .run(
        event.runId,
        event.position,
        event.takenAt,
        trace.format,
        trace.sampleRateHz,
        trace.scaleV,
        trace.offsetV,
        trace.rangeV,
        event.triggerIndex,
        event.handlerMs,
        samples,
        second,
        crc32Of(samples, second),
      ),
  )
  return null
}

interface EventRecord {
  readonly runId: number
  readonly position: number
  readonly takenAt: string
  readonly format: SampleFormat
  readonly sampleRateHz: number
  readonly scaleV: number
  readonly offsetV: number
  readonly rangeV: number
  readonly triggerIndex: number
  readonly handlerMs: number | null
  readonly samples: Uint8Array
  readonly secondSamples: Uint8Array | null
  /** Null in records of before check values were kept. */
  readonly crc32: number | null
}

/** Events of a run from a position on, in order. `archive-damaged` names the first that is not as it was stored. */
export function latencyEvents(
  archive: Archive,
  { runId, from, limit }: { readonly runId: number; readonly from: number; readonly limit: number },
): LatencyEvent[] {
  const rows = archive
    .sql(
      `SELECT run_id AS runId, position, taken_at AS takenAt, format, sample_rate_hz AS sampleRateHz, scale_v AS scaleV,
         offset_v AS offsetV, range_v AS rangeV, trigger_index AS triggerIndex, handler_ms AS handlerMs, samples,
         second_samples AS secondSamples, crc32
       FROM latency_event WHERE run_id = ? AND position >= ? ORDER BY position LIMIT ?`,
    )
    .all(runId, from, limit) as EventRecord[]
  return rows.map(({ format, sampleRateHz, scaleV, offsetV, rangeV, samples, secondSamples, crc32, ...rest }) => {
    if (crc32 !== null && crc32Of(samples, secondSamples) !== crc32)
      throw new AppError(
        'archive-damaged',
        `The record of event ${rest.position} of latency run ${rest.runId} differs from what was stored.`,
        'Salvage the archive, which leaves this event out, bring back a copy of it, or measure the latency again.',
      )
    const traceOf = (bytes: Uint8Array): RawTrace => ({
      format,
      samples: samplesOf(format, bytes),
      sampleRateHz,
      scaleV,
      offsetV,
      rangeV,
    })
    return { ...rest, trace: traceOf(samples), second: secondSamples === null ? null : traceOf(secondSamples) }
  })
}

/** Notes the reading made of a run; once only. */
export function endLatencyRun(
  archive: Archive,
  { runId, readingId }: { readonly runId: number; readonly readingId: number },
): null {
  const { changes } = archive.write(() =>
    archive.sql('UPDATE latency_run SET reading_id = ? WHERE id = ? AND reading_id IS NULL').run(readingId, runId),
  )
  if (changes === 0) throw new AppError('conflict', `Latency run ${runId} has its reading already, or is not there.`)
  return null
}
