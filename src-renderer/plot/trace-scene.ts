/**
 * What the trace plot shows, worked out as plain geometry: curve, bands, level lines, instants and points, in ms from
 * the origin and in V. No canvas and no DOM here.
 */
import type { Landmarks } from '#shared/domain/result.ts'
import type { Envelope } from '#shared/domain/views.ts'
import { fixed, milliseconds, UNDEFINED_TEXT } from '../ui/format.ts'

export interface TraceSource {
  readonly envelope: Envelope
  readonly landmarks: Landmarks | null
  /** Hz; 0 or less when unknown, then no window is shaded. */
  readonly refreshHz: number
  /** Full scale of the digitizer input, V; null where nobody said. */
  readonly rangeV: number | null
  /** Instant of the rig's trigger from the first sample, s; null when unknown. */
  readonly triggerS: number | null
  /** Grey-level codes, for the names of the level lines. */
  readonly from: number | null
  readonly to: number | null
  /** p of a p–(100−p) % duration; null when the recipe uses code bands. */
  readonly referencePercent: number | null
  readonly overshootPct: number | null
  readonly undershootPct: number | null
  /** Holds origin and edge where they were, lest the view moves under a mark being dragged; absent: they follow the marks. */
  readonly pinned?: Pick<TraceScene, 'originS' | 'origin' | 'edgeMs'> | null
}

interface SceneBand {
  readonly kind: 'start' | 'end'
  readonly fromMs: number
  readonly toMs: number
  readonly lowV: number
  readonly highV: number
}

interface SceneLevel {
  readonly kind: 'level' | 'reference'
  readonly fromMs: number
  readonly toMs: number
  readonly volts: number
  readonly label: string
}

export interface SceneInstant {
  readonly kind: 'onset' | 'arrival' | 'settled'
  readonly ms: number
  readonly label: string
}

export interface ScenePoint {
  readonly kind: 'crossing' | 'overshoot' | 'undershoot'
  readonly ms: number
  readonly volts: number
  readonly label: string
}

export interface TraceScene {
  readonly origin: 'onset' | 'trigger' | 'start of record'
  /** Instant of the origin, s from the first sample. */
  readonly originS: number
  /** Column centres, or sample instants, ms from the origin; as long as `min` and `max`. */
  readonly x: Float64Array
  readonly min: Float32Array
  readonly max: Float32Array
  readonly recordMs: readonly [number, number]
  /** The part around the level change that matters; the whole record when no onset was found. */
  readonly edgeMs: readonly [number, number]
  readonly voltsRange: readonly [number, number]
  readonly rangeV: number | null
  readonly window: { readonly fromMs: number; readonly toMs: number } | null
  readonly bands: readonly SceneBand[]
  readonly levels: readonly SceneLevel[]
  readonly instants: readonly SceneInstant[]
  readonly points: readonly ScenePoint[]
}

/** True when each column is one sample: its minimum and maximum are then equal everywhere. */
function holdsSamples(envelope: Envelope): boolean {
  for (let i = 0; i < envelope.min.length; i += 1) if (envelope.min[i] !== envelope.max[i]) return false
  return true
}

/** Column centres, or sample instants, ms from an origin in s. */
export function columnTimes(envelope: Envelope, originS: number): Float64Array {
  const centre = holdsSamples(envelope) ? 0 : 0.5
  const x = new Float64Array(envelope.min.length)
  for (let i = 0; i < x.length; i += 1) x[i] = (envelope.startS + (i + centre) * envelope.stepS - originS) * 1000
  return x
}

function originOf(source: TraceSource): { originS: number; origin: TraceScene['origin'] } {
  if (source.pinned) return source.pinned
  const onsetS = source.landmarks?.onsetS ?? null
  if (onsetS !== null) return { originS: onsetS, origin: 'onset' }
  if (source.triggerS !== null) return { originS: source.triggerS, origin: 'trigger' }
  return { originS: source.envelope.startS, origin: 'start of record' }
}

/** Extent of curve and given volts with a margin; a flat line gets 2 % of the input range around it. */
function voltsRangeOf(source: TraceSource, more: readonly (number | null)[]): readonly [number, number] {
  let low = Infinity
  let high = -Infinity
  const take = (volts: number | null | undefined) => {
    if (volts === null || volts === undefined || !Number.isFinite(volts)) return
    if (volts < low) low = volts
    if (volts > high) high = volts
  }
  for (const volts of source.envelope.min) take(volts)
  for (const volts of source.envelope.max) take(volts)
  for (const volts of more) take(volts)
  if (low > high) return [0, source.rangeV ?? 1]
  const margin = Math.max((high - low) * 0.08, (source.rangeV ?? 0) * 0.01)
  return [low - margin, high + margin]
}

export function traceScene(source: TraceSource): TraceScene {
  const { envelope, landmarks } = source
  const { originS, origin } = originOf(source)
  const ms = (seconds: number) => (seconds - originS) * 1000
  const n = envelope.min.length
  const x = columnTimes(envelope, originS)
  const recordMs = [ms(envelope.startS), ms(envelope.startS + n * envelope.stepS)] as const
  const frameMs = source.refreshHz > 0 ? 1000 / source.refreshHz : null
  const onsetMs = landmarks === null || landmarks.onsetS === null ? null : ms(landmarks.onsetS)
  const marks = landmarks === null ? EMPTY_MARKS : marksOf(source, landmarks, ms, recordMs)
  return {
    origin,
    originS,
    x,
    min: envelope.min,
    max: envelope.max,
    recordMs,
    edgeMs: source.pinned?.edgeMs ?? edgeOf(landmarks, ms, recordMs, frameMs),
    voltsRange: voltsRangeOf(source, [
      ...marks.levels.map((level) => level.volts),
      ...marks.bands.flatMap((band) => [band.lowV, band.highV]),
      ...marks.points.map((point) => point.volts),
    ]),
    rangeV: source.rangeV,
    window:
      onsetMs !== null && frameMs !== null ? { fromMs: onsetMs, toMs: Math.min(onsetMs + frameMs, recordMs[1]) } : null,
    ...marks,
  }
}

/** Half a frame of the old level, then at least two frames and everything up to settling; clipped to the record. */
function edgeOf(
  landmarks: Landmarks | null,
  ms: (seconds: number) => number,
  recordMs: readonly [number, number],
  frameMs: number | null,
): readonly [number, number] {
  if (landmarks === null || landmarks.onsetS === null) return recordMs
  // An excursion within the end band is noise; it may lie anywhere in the record.
  const [low, high] = landmarks.endBandV ?? [Infinity, -Infinity]
  const { overshootV } = landmarks
  const stands = overshootV !== null && (overshootV < low || overshootV > high)
  const ends = [
    landmarks.settledAtS,
    landmarks.arrivalAtS,
    stands ? landmarks.overshootAtS : null,
    landmarks.crossHighS,
    landmarks.crossLowS,
  ]
  const last = ends.reduce<number>((most, at) => (at === null ? most : Math.max(most, ms(at))), 0)
  const frame = frameMs ?? Math.max(last, 1)
  const end = Math.max(2 * frame, last * 1.25)
  return [Math.max(recordMs[0], -Math.max(0.5 * frame, 0.15 * end)), Math.min(recordMs[1], end)]
}

type Marks = Pick<TraceScene, 'bands' | 'levels' | 'instants' | 'points'>
const EMPTY_MARKS: Marks = { bands: [], levels: [], instants: [], points: [] }

function marksOf(
  source: TraceSource,
  marks: Landmarks,
  ms: (seconds: number) => number,
  recordMs: readonly [number, number],
): Marks {
  const onset = marks.onsetS === null ? null : ms(marks.onsetS)
  const edge = onset ?? recordMs[0]
  const bands: SceneBand[] = []
  if (marks.startBandV !== null && onset !== null)
    bands.push({
      kind: 'start',
      fromMs: recordMs[0],
      toMs: onset,
      lowV: marks.startBandV[0],
      highV: marks.startBandV[1],
    })
  if (marks.endBandV !== null)
    bands.push({ kind: 'end', fromMs: edge, toMs: recordMs[1], lowV: marks.endBandV[0], highV: marks.endBandV[1] })

  const levels: SceneLevel[] = []
  const line = (kind: SceneLevel['kind'], volts: number | null, fromMs: number, toMs: number, label: string) => {
    if (volts !== null) levels.push({ kind, volts, fromMs, toMs, label })
  }
  line('level', marks.beforeV, recordMs[0], recordMs[1], named(source.from, 'before'))
  line('level', marks.afterV, recordMs[0], recordMs[1], named(source.to, 'after'))

  const percent = source.referencePercent
  const references = [
    [marks.crossLowS, marks.referenceLowV, percent === null ? 'leaves band' : `${percent} %`],
    [marks.crossMidS, middle(marks.beforeV, marks.afterV), '50 %'],
    [marks.crossHighS, marks.referenceHighV, percent === null ? 'enters band' : `${100 - percent} %`],
  ] as const
  const points: ScenePoint[] = []
  for (const [at, volts, name] of references) {
    if (at === null || volts === null) continue
    points.push({ kind: 'crossing', ms: ms(at), volts, label: `${name} ${instant(ms(at))}` })
  }
  const excursion = (kind: 'overshoot' | 'undershoot', at: number | null, volts: number | null, pct: number | null) => {
    if (at === null || volts === null || pct === 0) return
    const amount = pct === null ? UNDEFINED_TEXT : fixed(pct, 1)
    points.push({ kind, ms: ms(at), volts, label: `${kind} ${amount} %` })
  }
  excursion('overshoot', marks.overshootAtS, marks.overshootV, source.overshootPct)
  excursion('undershoot', marks.undershootAtS, marks.undershootV, source.undershootPct)

  const instants: SceneInstant[] = []
  if (onset !== null) instants.push({ kind: 'onset', ms: onset, label: 'onset' })
  const together = marks.arrivalAtS !== null && marks.arrivalAtS === marks.settledAtS
  if (marks.arrivalAtS !== null)
    instants.push({
      kind: 'arrival',
      ms: ms(marks.arrivalAtS),
      label: `${together ? 'arrival, settled' : 'arrival'} ${instant(ms(marks.arrivalAtS))}`,
    })
  if (marks.settledAtS !== null && !together)
    instants.push({ kind: 'settled', ms: ms(marks.settledAtS), label: `settled ${instant(ms(marks.settledAtS))}` })
  return { bands, levels, instants, points }
}

function named(code: number | null, fallback: string): string {
  return code === null ? fallback : `level ${code}`
}

function middle(a: number | null, b: number | null): number | null {
  return a === null || b === null ? null : (a + b) / 2
}

function instant(ms: number): string {
  return `${milliseconds(ms / 1000)} ms`
}
