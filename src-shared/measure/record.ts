import type { RawTrace } from '../domain/capture.ts'
import type { Series } from '../signal/series.ts'
import { SPECTRUM_BINS } from '../signal/spectrum.ts'

/** What is known of a raw record after one pass over its samples. Positions are samples of the (cut) record. */
export interface RecordFacts {
  readonly series: Series
  readonly sampleRateHz: number
  /** First sample of the record that is looked at; times of results count from sample 0 of the whole record. */
  readonly offset: number
  readonly minV: number
  readonly maxV: number
  /** Smallest voltage step of the digitizer as seen or declared; 0 when it is not known. */
  readonly lsbV: number
  /** Samples at the input's rails, the longest run of them, and the span they cover. */
  readonly clipped: number
  readonly clippedRun: number
  readonly clippedSpan: readonly [number, number]
  /** Samples that are not numbers (or the instrument's not-a-number mark), and the span they cover. */
  readonly invalid: number
  readonly invalidSpan: readonly [number, number]
  /** Longest run of one and the same value away from the rails, where it starts, and samples in all runs this notable. */
  readonly heldRun: number
  readonly heldAt: number
  readonly heldSamples: number
  /** Share of neighbouring samples that are equal, those at the rails and in the longest run left out. */
  readonly equalShare: number
}

/** Buffers reused from one measurement to the next; nothing that is returned to a caller may refer to them. */
export interface Workspace {
  values: Float64Array
  prefix: Float64Array
  /** Samples that equal the one before. */
  equals: Int32Array
  conditioned: Float64Array
  conditionedPrefix: Float64Array
  /** The plateaus' spectra: before the step, after it, and of the brighter one's last samples. */
  readonly spectra: readonly [Float64Array, Float64Array, Float64Array]
}

export function createWorkspace(): Workspace {
  const empty = new Float64Array(0)
  const bins = (): Float64Array => new Float64Array(SPECTRUM_BINS)
  return {
    values: empty,
    prefix: empty,
    equals: new Int32Array(0),
    conditioned: empty,
    conditionedPrefix: empty,
    spectra: [bins(), bins(), bins()],
  }
}

/** Buffers for `n` samples; grown with room to spare, so that records of one sweep never reallocate. */
function reserve(workspace: Workspace, n: number): void {
  if (workspace.values.length >= n + 1) return
  const size = n + 1 + (n >> 3)
  workspace.values = new Float64Array(size)
  workspace.prefix = new Float64Array(size)
  workspace.equals = new Int32Array(size)
}

/** Equal samples in a row from which a run is counted among `heldSamples`. */
export const HELD_RUN = 20

/** Raw values beyond this are an instrument's not-a-number or infinity marks (9.9e37, 9.91e37), not volts. */
const MARK = 1e37

/**
 * Volts, running sum and facts of samples first … end−1 of a trace in one pass. Samples that are not numbers take the
 * last good value and are counted.
 */
export function readRecord(trace: RawTrace, first: number, end: number, workspace: Workspace): RecordFacts {
  const n = end - first
  reserve(workspace, n)
  const v = workspace.values.subarray(0, n)
  const prefix = workspace.prefix.subarray(0, n + 1)
  return trace.samples instanceof Int16Array
    ? readInt16(trace, trace.samples, first, v, prefix, workspace.equals)
    : readReal(trace, trace.samples, first, v, prefix)
}

function readInt16(
  trace: RawTrace,
  samples: Int16Array,
  first: number,
  v: Float64Array,
  prefix: Float64Array,
  equals: Int32Array,
): RecordFacts {
  const n = v.length
  const { scaleV, offsetV } = trace
  let sum = 0
  let min = 32767
  let max = -32768
  let least = 65535
  let count = 0
  let previous = n > 0 ? samples[first]! : 0
  prefix[0] = 0
  for (let k = 0; k < n; k++) {
    const code = samples[first + k]!
    const y = code * scaleV + offsetV
    v[k] = y
    sum += y
    prefix[k + 1] = sum
    if (code < min) min = code
    if (code > max) max = code
    // One under the change: −1 where there is none. Noise decides which, so that a branch would be guessed wrongly.
    const step = Math.abs(code - previous) - 1
    if ((step & 0xffff) < least) least = step
    equals[count] = k
    count += step >>> 31
    previous = code
  }
  const changes = n - count
  const a = min * scaleV + offsetV
  const b = max * scaleV + offsetV
  const lsb = changes >= MIN_CHANGES ? least + 1 : 1
  // A converter of fewer bits inside 16-bit codes has its top code a step of its own under the range's end.
  const { clipped, clippedRun, clippedSpan, heldRun, heldAt, heldSamples } = readRuns(
    samples,
    first,
    equals.subarray(0, count),
    codeRails(trace, lsb),
  )
  return {
    series: { v, prefix, n },
    sampleRateHz: trace.sampleRateHz,
    offset: first,
    minV: Math.min(a, b),
    maxV: Math.max(a, b),
    lsbV: Math.abs(scaleV) * lsb,
    invalid: 0,
    invalidSpan: [0, 0],
    clipped,
    clippedRun,
    clippedSpan,
    heldRun,
    heldAt,
    heldSamples,
    equalShare: equalShareOf(n, changes, clipped + heldRun),
  }
}

/** Share of equal neighbours outside `apart` samples that stand in runs of their own. */
function equalShareOf(n: number, changes: number, apart: number): number {
  return Math.max(0, n - 1 - changes - apart) / Math.max(1, n - apart)
}

type Runs = Pick<RecordFacts, 'clipped' | 'clippedRun' | 'clippedSpan' | 'heldRun' | 'heldAt' | 'heldSamples'>

/**
 * Runs of equal codes at the rails and away from them. `equals` lists the samples that equal the one before (and sample 0).
 */
function readRuns(
  samples: Int16Array,
  first: number,
  equals: Int32Array,
  [railLow, railHigh]: readonly [number, number],
): Runs {
  let clipped = 0
  let clippedRun = 0
  let clippedFirst = 0
  let clippedLast = 0
  let heldRun = 0
  let heldAt = 0
  let heldSamples = 0
  let run = 1
  for (let i = 1; i < equals.length; i++) {
    const k = equals[i]!
    const code = samples[first + k]!
    run = equals[i - 1] === k - 1 ? run + 1 : 2
    if (code > railLow && code < railHigh) {
      if (run > heldRun) {
        heldRun = run
        heldAt = k - run + 1
      }
      if (run >= HELD_RUN) heldSamples += run === HELD_RUN ? HELD_RUN : 1
    } else {
      // Counted from the second sample on: a single sample at a rail is no clipping.
      if (clipped === 0) clippedFirst = k - 1
      clipped += run === 2 ? 2 : 1
      clippedLast = k
      if (run > clippedRun) clippedRun = run
    }
  }
  return { clipped, clippedRun, clippedSpan: [clippedFirst, clippedLast], heldRun, heldAt, heldSamples }
}

/** Fewest changes from which a converter's step is told, and how far from a whole multiple of it each may be. */
const LEAST_CHANGES = 8
const MULTIPLE = 0.02

/**
 * Step of a converter in a record that changes seldom: every change is a whole multiple of the smallest, and not all of
 * them are equal and one after the other (a ramp is no converter's work). 0 where that is not so.
 */
function commonStep(v: Float64Array, smallest: number, changes: number): number {
  if (changes < LEAST_CHANGES || !(smallest > 0)) return 0
  let most = 1
  let inARow = 0
  let before = 0
  for (let k = 1; k < v.length; k++) {
    const step = Math.abs(v[k]! - v[k - 1]!) / smallest
    if (step > 0.5 && before > 0.5) inARow++
    before = step
    const whole = Math.round(step)
    if (Math.abs(step - whole) > MULTIPLE * Math.max(1, whole / 8)) return 0
    if (whole > most) most = whole
  }
  return most > 1 || 2 * inARow < changes ? smallest : 0
}

/** Changes between neighbouring samples needed before the smallest of them is taken for the digitizer's step. */
const MIN_CHANGES = 64

/**
 * Codes at or beyond which the input is at its rail: the ends of the 16-bit range, or ± the input's full scale, less
 * one step of the converter (`lsb` codes) at the top.
 */
function codeRails(trace: RawTrace, lsb: number): [number, number] {
  const { scaleV, offsetV, rangeV } = trace
  if (!(rangeV > 0) || scaleV === 0) return [-32768, 32768 - lsb]
  const a = (-rangeV - offsetV) / scaleV
  const b = (rangeV - offsetV) / scaleV
  return [Math.max(-32768, Math.ceil(Math.min(a, b))), Math.min(32768, Math.floor(Math.max(a, b))) - lsb]
}

function readReal(
  trace: RawTrace,
  samples: Float32Array | Int16Array,
  first: number,
  v: Float64Array,
  prefix: Float64Array,
): RecordFacts {
  const n = v.length
  const { scaleV, offsetV } = trace
  // Half a part in 2¹⁵ of the range: the last code of a 16-bit digitizer sending decimal volts.
  const rail = trace.rangeV > 0 ? trace.rangeV * (1 - 1.5 / 32768) : Infinity
  let sum = 0
  let min = Infinity
  let max = -Infinity
  let run = 1
  let clipped = 0
  let clippedRun = 0
  let clippedFirst = 0
  let clippedLast = 0
  let invalid = 0
  let invalidFirst = 0
  let invalidLast = 0
  let heldRun = 0
  let heldAt = 0
  let heldSamples = 0
  let previous = 0
  let railRun = 0
  let smallest = Infinity
  let changes = 0
  for (let k = 0; k < n; k++) {
    const raw = samples[first + k]!
    if (Number.isFinite(raw) && Math.abs(raw) < MARK) {
      previous = raw * scaleV + offsetV
      break
    }
  }
  prefix[0] = 0
  for (let k = 0; k < n; k++) {
    const raw = samples[first + k]!
    let y = raw * scaleV + offsetV
    if (!(raw < MARK && raw > -MARK)) {
      if (invalid === 0) invalidFirst = k
      invalid++
      invalidLast = k
      y = previous
    }
    v[k] = y
    sum += y
    prefix[k + 1] = sum
    if (y < min) min = y
    if (y > max) max = y
    if (y >= rail || y <= -rail) {
      railRun++
      if (railRun >= 2) {
        if (clipped === 0) clippedFirst = k - 1
        clipped += railRun === 2 ? 2 : 1
        clippedLast = k
        if (railRun > clippedRun) clippedRun = railRun
      }
      run = 1
    } else {
      railRun = 0
      const step = Math.abs(y - previous)
      if (step > 0) {
        changes++
        if (step < smallest) smallest = step
        run = 1
      } else run = k > 0 ? run + 1 : 1
      if (run > heldRun) {
        heldRun = run
        heldAt = k - run + 1
      }
      if (run >= HELD_RUN) heldSamples += run === HELD_RUN ? HELD_RUN : 1
    }
    previous = y
  }
  return {
    series: { v, prefix, n },
    sampleRateHz: trace.sampleRateHz,
    offset: first,
    minV: min,
    maxV: max,
    lsbV: changes >= MIN_CHANGES ? smallest : commonStep(v, smallest, changes),
    clipped,
    clippedRun,
    clippedSpan: [clippedFirst, clippedLast],
    invalid,
    invalidSpan: [invalidFirst, invalidLast],
    equalShare: equalShareOf(n, changes, clipped + heldRun),
    heldRun,
    heldAt,
    heldSamples,
  }
}
