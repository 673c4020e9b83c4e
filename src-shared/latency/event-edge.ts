/** The edge of an input event on the rig's second channel, in the record that shows its light. */
import type { RawTrace } from '#shared/domain/capture.ts'
import { levelSpread, noiseOf, voltsOf } from './plateau.ts'

export interface EventEdge {
  /** The edge's place, samples from 0, between two samples. */
  readonly at: number
  /** Times the contact opened again within `BOUNCE_S`. */
  readonly bounces: number
  /** Where the next event begins, samples; null where the record shows one only. */
  readonly next: number | null
}

/** A contact that opens within this time bounces; common practice for keys and buttons, no source. */
const BOUNCE_S = 0.02
/** Noise and steps of the converter that an edge has to stand out of, as for light. */
const EDGE_SIGMA = 20
const EDGE_LSB = 100
/** The level before the event is read from this share of the record's beginning, and from so many samples at least. */
const REST_SHARE = 0.02
const LEAST_REST = 8

/**
 * First crossing of half of the way to the furthest level, whichever way the contact pulls, whatever started the record.
 * An edge faster than a sample lies anywhere between two: then it is put half-way, a rectangle one sample wide.
 * @returns the edge, or why there is none, as a sentence.
 */
export function eventEdge(trace: RawTrace): EventEdge | string {
  const volts = voltsOf(trace)
  const count = Math.max(LEAST_REST, Math.round(REST_SHARE * volts.length))
  if (volts.length < 4 * count) return 'The record of the second channel is too short.'
  const rest = levelSpread(volts.subarray(0, count))
  let swing = 0
  for (const v of volts) if (Math.abs(v - rest.mean) > Math.abs(swing)) swing = v - rest.mean
  const least = Math.max(
    EDGE_SIGMA * noiseOf(volts.subarray(0, count)),
    trace.format === 'int16' ? EDGE_LSB * trace.scaleV : 0,
  )
  if (!(Math.abs(swing) > least)) return 'The second channel shows no edge of the event.'
  const done = (i: number): number => ((volts[i] as number) - rest.mean) / swing
  if (done(0) >= 0.5 || rest.range > 0.5 * Math.abs(swing))
    return 'The event had begun before the record: the second channel shows no edge of it.'
  const bounce = BOUNCE_S * trace.sampleRateHz
  let at: number | null = null
  let bounces = 0
  let opened = false
  for (let i = 1; i < volts.length; i++) {
    const [before, now] = [done(i - 1), done(i)]
    if (before >= 0.5 && now < 0.5) opened = true
    if (before >= 0.5 || now < 0.5) continue
    const place = i - 1 + (0.5 - before) / (now - before)
    if (at === null) at = place
    else if (place - at > bounce) return { at, bounces, next: place }
    else if (opened) bounces++
    opened = false
  }
  return at === null ? 'The second channel shows no edge of the event.' : { at, bounces, next: null }
}
