/** What the interface is told of periodic light: a steady part of a stored capture, or a recording that is not stored. */
import type { Envelope } from './views.ts'
import type { LightMeasurement } from '../measure/light.ts'

/** The steady light before the level change, after it has settled, or the whole record. */
export const LIGHT_PARTS = ['before', 'after', 'record'] as const
export type LightPart = (typeof LIGHT_PARTS)[number]

export interface LightReading extends LightMeasurement {
  readonly sampleRateHz: number
  /** What was measured, s from the first sample, and how many samples that is. */
  readonly fromS: number
  readonly toS: number
  readonly samples: number
  /** The measured part for drawing, V. */
  readonly envelope: Envelope
  /** What is to be known about the record itself. */
  readonly warnings: readonly string[]
}
