import { AppError } from '#shared/domain/errors.ts'

export interface TimeAxis {
  readonly sampleRateHz: number
  readonly startS: number
  /** Place of each sample on the even grid; null when every place is taken, so that place = index. */
  readonly places: Uint32Array | null
  /**
   * Fractional index of the samples at each step of the even grid, where the steps are so unequal that the samples have
   * to be interpolated; the grid's step is then the longest of theirs. Null where they are taken as they are.
   */
  readonly resample: Float64Array | null
  /** Places without a sample. */
  readonly missing: number
  /** Index of the first sample after a gap; null without one. */
  readonly firstGap: number | null
  readonly warnings: readonly string[]
}

/** Interval scatter, as a share of the interval, up to which a time axis is fine enough to find single missing samples. */
const FINE_JITTER = 0.3
/** Largest deviation of an interval from a whole number of steps, as a share of a step. */
const STEP_TOLERANCE = 0.35
/** Share of a step up to which a sample may lie off the even grid and is taken to lie on it. */
const EVEN_TO = 0.02
/** Rounding of the written time, in units of its last digit, that a sample may lie off besides. */
const ROUNDING = 1.01
/** More missing places than samples: it is not a gapped record but a different kind of axis. */
const MAX_MISSING_SHARE = 1

function irregular(what: string): AppError {
  return new AppError(
    'import-unreadable',
    what,
    'Export the recording with equal time steps (no compression, no segments, no averaging over events).',
  )
}

/** The shortest decimal number within a relative tolerance: 49 999.9999 becomes 50 000 where the axis cannot tell. */
export function roundedWithin(value: number, tolerance: number): number {
  for (let digits = 1; digits < 17; digits++) {
    const candidate = Number(value.toPrecision(digits))
    if (Math.abs(candidate - value) <= tolerance * Math.abs(value)) return candidate
  }
  return value
}

/**
 * Finds rate, start and missing samples of a time column. `times` in s, at least two; `resolutionS` is the finest
 * written digit. `lineOf` names the file's line of a sample for messages. Throws `import-unreadable` when time runs
 * backwards or the steps are not equal.
 */
export function timeAxisOf(times: Float64Array, resolutionS: number, lineOf: (index: number) => number): TimeAxis {
  const count = times.length
  const first = times[0] as number
  const span = (times[count - 1] as number) - first
  const steps = new Float64Array(count - 1)
  for (let i = 1; i < count; i++) {
    const step = (times[i] as number) - (times[i - 1] as number)
    if (step < 0)
      throw irregular(
        `Line ${lineOf(i)}: time goes backwards, from ${times[i - 1]} s to ${times[i]} s. ${
          i > 1 ? 'The file may hold several records one after the other.' : ''
        }`.trim(),
      )
    steps[i - 1] = step
  }
  if (!(span > 0)) throw irregular(`All samples carry the same time, ${first} s (line ${lineOf(0)} and after).`)
  const median = middleOf(steps)
  const deviations = steps.map((step) => Math.abs(step - median))
  deviations.sort()
  const jitter = deviations[Math.floor(0.95 * (deviations.length - 1))] as number
  const snap = (rate: number): number => roundedWithin(rate, Math.max(1e-13, (0.5 * resolutionS) / span))
  if (median === 0 || jitter > FINE_JITTER * median) return coarseAxis(times, steps, lineOf, snap)

  const places = new Uint32Array(count)
  let missing = 0
  let firstGap: number | null = null
  let worst = 0
  for (let i = 1; i < count; i++) {
    const ratio = (steps[i - 1] as number) / median
    const whole = Math.round(ratio)
    const off = Math.abs(ratio - whole)
    if (whole < 1 || off > STEP_TOLERANCE)
      throw irregular(
        `Line ${lineOf(i)}: this time step is ${steps[i - 1]} s, the others are ${median} s; samples must be equally spaced.`,
      )
    if (whole > 1) {
      missing += whole - 1
      firstGap ??= i
    } else worst = Math.max(worst, off)
    if (missing > MAX_MISSING_SHARE * count)
      throw irregular(`Line ${lineOf(i)}: up to here ${missing} of ${missing + i} samples are missing.`)
    places[i] = (places[i - 1] as number) + whole
  }
  const last = places[count - 1] as number
  const even = { sampleRateHz: snap(last / span), startS: first, resample: null, missing, firstGap }
  const step = span / last
  let off = 0
  for (let i = 1; i < count; i++)
    off = Math.max(off, Math.abs((times[i] as number) - first - (places[i] as number) * step))
  if (off <= EVEN_TO * step + ROUNDING * resolutionS)
    return { ...even, places: missing === 0 ? null : places, warnings: [] }
  if (missing > 0)
    throw irregular(
      `Samples are missing, and the others lie up to ${seconds(off)} off an even grid of ${seconds(step)}: where they belong cannot be told.`,
    )
  return resampled(times, steps, worst)
}

/** An even grid of the longest step between two samples: no instant is then said to be known better than it is. */
function resampled(times: Float64Array, steps: Float64Array, worst: number): TimeAxis {
  const first = times[0] as number
  const span = (times[times.length - 1] as number) - first
  const step = steps.reduce((longest, one) => Math.max(longest, one), 0)
  const resample = new Float64Array(Math.floor(span / step + 1e-9) + 1)
  for (let k = 0, i = 0; k < resample.length; k++) {
    const at = first + k * step
    while (i < times.length - 2 && (times[i + 1] as number) <= at) i++
    const share = (at - (times[i] as number)) / ((times[i + 1] as number) - (times[i] as number))
    resample[k] = i + Math.min(1, Math.max(0, share))
  }
  return {
    sampleRateHz: roundedWithin(1 / step, 1e-12),
    startS: first,
    places: null,
    resample,
    missing: 0,
    firstGap: null,
    warnings: [
      `The time steps vary by up to ${(100 * worst).toFixed(0)} %: the samples are interpolated onto equal steps as long as the longest, ${seconds(step)}, so that uncertainties count that.`,
    ],
  }
}

const seconds = (value: number): string => `${Number(value.toPrecision(3))} s`

function middleOf(steps: Float64Array): number {
  const sorted = Float64Array.from(steps)
  sorted.sort()
  return sorted[sorted.length >> 1] as number
}

/** A time column with too few digits: steps of 0 and one unit. The even grid must still run through all of it. */
function coarseAxis(
  times: Float64Array,
  steps: Float64Array,
  lineOf: (index: number) => number,
  snap: (rate: number) => number,
): TimeAxis {
  const first = times[0] as number
  const last = times.length - 1
  const stepS = ((times[last] as number) - first) / last
  const unit = steps.reduce((least, step) => (step > 0 ? Math.min(least, step) : least), Infinity)
  let worst = 0
  let at = 0
  for (let i = 0; i <= last; i++) {
    const off = Math.abs((times[i] as number) - (first + i * stepS))
    if (off > worst) {
      worst = off
      at = i
    }
  }
  // Rounded ends tilt the line by half a unit, and each rounded time lies up to half a unit off it.
  if (worst > 1.05 * unit || unit > 20 * stepS)
    throw irregular(
      `The time steps are not equal: the sample in line ${lineOf(at)} lies ${worst.toPrecision(3)} s off an even grid of ${stepS.toPrecision(3)} s.`,
    )
  return {
    sampleRateHz: snap(1 / stepS),
    startS: first,
    places: null,
    resample: null,
    missing: 0,
    firstGap: null,
    warnings: [
      'The time column has too few digits to tell every sample apart: the rate comes from its ends, and missing samples cannot be found.',
    ],
  }
}
