import type { CaptureInfo, FrameLog, RawTrace, Verdict } from '#shared/domain/capture.ts'
import { AppError } from '#shared/domain/errors.ts'
import type { Result } from '#shared/domain/result.ts'
import type { NewCapture } from '#shared/domain/stored.ts'
import type { Archive } from '../archive.ts'
import { samplesOf, toBlob } from '../codec.ts'
import { crc32 } from '#main/core/crc32.ts'
import { insertResult } from './results.ts'

export interface CaptureRecord {
  id: number
  sweep_id: number
  level_from: number
  level_to: number
  repeat: number
  attempt: number
  position: number
  round: number
  verdict: Verdict
  taken_at: string
  sample_count: number
  sample_rate_hz: number
  trigger_index: number
  source: string
  frame_source: 'controller' | 'page' | null
  frame_ms: number | null
  frame_switch_ms: number | null
  frame_dropped: number | null
  frame_since_trigger_s: number | null
}

function frameLogOf(row: CaptureRecord): FrameLog | null {
  if (row.frame_source === null) return null
  return {
    source: row.frame_source,
    frameMs: row.frame_ms,
    switchMs: row.frame_switch_ms ?? 0,
    dropped: row.frame_dropped === 1,
    ...(row.frame_since_trigger_s === null ? {} : { sinceTriggerS: row.frame_since_trigger_s }),
  }
}

export function captureOf(row: CaptureRecord): CaptureInfo {
  return {
    id: row.id,
    sweepId: row.sweep_id,
    from: row.level_from,
    to: row.level_to,
    repeat: row.repeat,
    attempt: row.attempt,
    position: row.position,
    takenAt: row.taken_at,
    verdict: row.verdict,
    sampleCount: row.sample_count,
    sampleRateHz: row.sample_rate_hz,
    triggerIndex: row.trigger_index,
    source: row.source,
    frameLog: frameLogOf(row),
  }
}

function checkCapture(capture: NewCapture): void {
  const { trace } = capture
  const problem =
    trace.samples.length === 0
      ? 'it holds no samples'
      : trace.format !== (trace.samples instanceof Int16Array ? 'int16' : 'real32')
        ? `its samples are not ${trace.format}`
        : !(trace.sampleRateHz > 0 && Number.isFinite(trace.sampleRateHz))
          ? `its sample rate is ${trace.sampleRateHz} Hz`
          : ![trace.scaleV, trace.offsetV, trace.rangeV].every(Number.isFinite)
            ? 'its scale, offset or range is not a number'
            : !Number.isInteger(capture.triggerIndex)
              ? 'its trigger index is not a whole number'
              : null
  if (problem !== null) throw new AppError('invalid-input', `The capture cannot be stored: ${problem}.`)
}

/** FROM and WHERE of the good captures, n, that were taken in place of capture c. */
export const NEWER_GOOD = `FROM capture n WHERE n.sweep_id = c.sweep_id AND n.position = c.position
  AND n.verdict = 'good' AND n.round > c.round`
/** True for a good capture, c, in whose place a newer good one counts. */
export const SUPERSEDED = `(c.verdict = 'good' AND EXISTS (SELECT 1 ${NEWER_GOOD}))`
/** Whether a good capture c with its standing review s enters statistics. */
export const COUNTS = `(coalesce(s.decision, '') NOT IN ('exclude', 'retake') AND NOT ${SUPERSEDED})`

interface Newest {
  round: number
  decision: string | null
}

const NEWEST_GOOD = `
SELECT c.round, s.decision FROM capture c LEFT JOIN standing s ON s.capture_id = c.id
WHERE c.sweep_id = ? AND c.position = ? AND c.verdict = 'good' ORDER BY c.round DESC LIMIT 1`

const INSERT_CAPTURE = `
INSERT INTO capture (sweep_id, level_from, level_to, repeat, attempt, position, round, verdict, taken_at, sample_count,
  sample_rate_hz, trigger_index, source, frame_source, frame_ms, frame_switch_ms, frame_dropped,
  frame_since_trigger_s)
VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)`

/** One transaction: all of the capture is on disk when this returns, or none of it. */
export function addCapture(archive: Archive, capture: NewCapture, result: Result | null): CaptureInfo {
  checkCapture(capture)
  const { trace, frameLog } = capture
  const id = archive.write(() => {
    if (archive.sql('SELECT 1 FROM sweep WHERE id = ?').get(capture.sweepId) === undefined)
      throw new AppError('not-found', `Sweep ${capture.sweepId} is not in the archive.`)
    const newest = archive.sql(NEWEST_GOOD).get(capture.sweepId, capture.position) as Newest | undefined
    if (newest !== undefined && newest.decision !== 'retake')
      throw new AppError(
        'conflict',
        `Position ${capture.position} of sweep ${capture.sweepId} already holds a good capture.`,
        'Send that capture back to be retaken first, or go on with the next position.',
      )
    const round = newest === undefined ? 0 : newest.round + 1
    const taken = archive
      .sql('SELECT 1 FROM capture WHERE sweep_id = ? AND position = ? AND round = ? AND attempt = ?')
      .get(capture.sweepId, capture.position, round, capture.attempt)
    if (taken !== undefined)
      throw new AppError(
        'conflict',
        `Attempt ${capture.attempt} at position ${capture.position} of sweep ${capture.sweepId} is already stored.`,
      )
    const captureId = Number(
      archive
        .sql(INSERT_CAPTURE)
        .run(
          capture.sweepId,
          capture.from,
          capture.to,
          capture.repeat,
          capture.attempt,
          capture.position,
          round,
          capture.verdict,
          capture.takenAt,
          trace.samples.length,
          trace.sampleRateHz,
          capture.triggerIndex,
          capture.source,
          frameLog === null ? null : frameLog.source,
          frameLog === null ? null : frameLog.frameMs,
          frameLog === null ? null : frameLog.switchMs,
          frameLog === null ? null : frameLog.dropped ? 1 : 0,
          frameLog?.sinceTriggerS ?? null,
        ).lastInsertRowid,
    )
    const bytes = toBlob(trace.samples)
    archive
      .sql(
        `INSERT INTO trace (capture_id, format, sample_rate_hz, scale_v, offset_v, range_v, crc32, samples)
         VALUES (?, ?, ?, ?, ?, ?, ?, ?)`,
      )
      .run(captureId, trace.format, trace.sampleRateHz, trace.scaleV, trace.offsetV, trace.rangeV, crc32(bytes), bytes)
    if (result !== null) insertResult(archive, captureId, result, 0)
    return captureId
  })
  return getCapture(archive, id)
}

export function getCapture(archive: Archive, id: number): CaptureInfo {
  const row = archive.sql('SELECT * FROM capture WHERE id = ?').get(id) as CaptureRecord | undefined
  if (row === undefined) throw new AppError('not-found', `Capture ${id} is not in the archive.`)
  return captureOf(row)
}

export interface TraceRecord {
  format: 'int16' | 'real32'
  sample_rate_hz: number
  scale_v: number
  offset_v: number
  range_v: number
  crc32: number
  samples: Uint8Array
}

/** Checks the bytes against their stored check value: `archive-damaged` when the disk changed them. */
export function traceOf(row: TraceRecord, captureId: number): RawTrace {
  if (crc32(row.samples) !== row.crc32)
    throw new AppError(
      'archive-damaged',
      `The samples of capture ${captureId} differ from those that were stored.`,
      'Retake this capture or bring back a copy of the archive; the other captures are checked in the same way.',
    )
  return {
    format: row.format,
    samples: samplesOf(row.format, row.samples),
    sampleRateHz: row.sample_rate_hz,
    scaleV: row.scale_v,
    offsetV: row.offset_v,
    rangeV: row.range_v,
  }
}

export function trace(archive: Archive, captureId: number): RawTrace {
  const row = archive
    .sql('SELECT format, sample_rate_hz, scale_v, offset_v, range_v, crc32, samples FROM trace WHERE capture_id = ?')
    .get(captureId) as TraceRecord | undefined
  if (row === undefined) throw new AppError('not-found', `Capture ${captureId} is not in the archive.`)
  return traceOf(row, captureId)
}

interface ProgressRow {
  position: number
  round: number
  verdict: Verdict
  decision: string | null
}

/**
 * Positions that were tried, ascending. A position whose good capture was sent back to be retaken counts as not good,
 * and its attempts start again at 0.
 */
export function progress(archive: Archive, sweepId: number): { position: number; attempts: number; good: boolean }[] {
  const rows = archive
    .sql(
      `SELECT c.position, c.round, c.verdict, s.decision FROM capture c LEFT JOIN standing s ON s.capture_id = c.id
       WHERE c.sweep_id = ? ORDER BY c.position, c.round, c.attempt`,
    )
    .all(sweepId) as ProgressRow[]
  const places = new Map<number, ProgressRow[]>()
  for (const row of rows) {
    const place = places.get(row.position)
    if (place === undefined) places.set(row.position, [row])
    else place.push(row)
  }
  return Array.from(places, ([position, captures]) => {
    const newest = captures.filter((row) => row.verdict === 'good').at(-1)
    const good = newest !== undefined && newest.decision !== 'retake'
    const round = newest === undefined ? 0 : newest.round + (good ? 0 : 1)
    return { position, attempts: captures.filter((row) => row.round === round).length, good }
  })
}
