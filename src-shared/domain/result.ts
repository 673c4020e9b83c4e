import type { MeasureId } from './measures.ts'

export const FLAG_IDS = [
  'clipped',
  'small-step',
  'plateau-drift',
  'plateau-not-reached',
  'several-crossings',
  'under-resolved',
  'detector-limited',
  'ladder-disagrees',
  'edge-out-of-frame',
  'differs-from-repeats',
  'ripple-differs',
  'hum',
  'edge-of-record',
  'missing-samples',
  'wrong-direction',
  'ringing-filter',
  'conditioning-bias',
  'double-step',
  'saturation',
  'left-in-trace',
] as const
export type FlagId = (typeof FLAG_IDS)[number]

/** A doubt found by the machine, with the number it compared, the limit it used and the samples it points at. */
export interface Flag {
  readonly id: FlagId
  /** One plain sentence with the numbers in it. */
  readonly evidence: string
  readonly value: number | null
  readonly limit: number | null
  readonly unit: string
  /** First and last sample the flag points at; null when it concerns the whole record. */
  readonly span: readonly [number, number] | null
}

/** Where the measurement put its marks. Times in s from the first sample; levels in the recipe's ordinate and in V. */
export interface Landmarks {
  readonly beforeWindow: readonly [number, number] | null
  readonly afterWindow: readonly [number, number] | null
  readonly beforeV: number | null
  readonly afterV: number | null
  /** Instants of leaving the start band, the low, middle and high reference crossings, first and last band entry, s. */
  readonly onsetS: number | null
  readonly crossLowS: number | null
  readonly crossMidS: number | null
  readonly crossHighS: number | null
  readonly arrivalAtS: number | null
  readonly settledAtS: number | null
  readonly overshootAtS: number | null
  readonly overshootV: number | null
  readonly undershootAtS: number | null
  readonly undershootV: number | null
  /** Half widths of the start and end bands as voltages around the levels [low, high]. */
  readonly startBandV: readonly [number, number] | null
  readonly endBandV: readonly [number, number] | null
  /** Reference levels of the duration, V. */
  readonly referenceLowV: number | null
  readonly referenceHighV: number | null
}

/**
 * Reason of an `in_window` that is neither yes nor no; always in these words, so that undecided captures can be counted.
 */
export const UNDECIDED = 'Undecided: the limit lies inside the 95 % interval of the value.'

/** One cause of a value's uncertainty. */
export interface UncertaintyTerm {
  /** Plain words: “Noise”, “Detector”, “Converter step”. */
  readonly name: string
  /** Standard uncertainty it brings, in the unit of the value. */
  readonly u: number
  /** Repeats average it: it differs from capture to capture. */
  readonly averages: boolean
}

/** Numbers of one capture under one recipe. A null value always has a reason; NaN and infinities never appear. */
export interface Result {
  readonly recipeHash: string
  readonly algorithm: string
  readonly values: Readonly<Record<MeasureId, number | null>>
  readonly reasons: Readonly<Partial<Record<MeasureId, string>>>
  /** Standard uncertainties, in the unit of the value. */
  readonly uncertainties: Readonly<Partial<Record<MeasureId, number>>>
  /**
   * The part of each uncertainty that repeats do not average: detector, converter, level, ladder, time base, tail.
   * A value without one has none; where all are absent the whole uncertainty is taken for it.
   */
  readonly common?: Readonly<Partial<Record<MeasureId, number>>>
  readonly landmarks: Landmarks
  readonly flags: readonly Flag[]
}

/** Why there is no duration without the detector, and what a reader of any other number has to know. */
export const DETECTOR_NOT_STATED =
  'The detector is not stated in the recipe: what it adds is neither taken out of any number nor in its uncertainty.'

/** Version of the measuring code; raised whenever any number it produces may change. */
export const ALGORITHM = '5'
