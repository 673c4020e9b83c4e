import type { MeasureInput } from '../domain/measure-input.ts'
import { DETECTOR_NOT_STATED, UNDECIDED, type Landmarks } from '../domain/result.ts'
import { valueAt, type Series } from '../signal/series.ts'
import type { Analysis } from './analysis.ts'
import { addBent, addLevels, addRead, addStretch, addTerm, beginBudget, closeBudget, stateMeasure } from './budget.ts'
import { bentBy, slopeOfMean } from './bending.ts'
import { readAt } from './read-at.ts'
import { integrateError, mapStretch } from './integrated-error.ts'
import { halfWidthFor, noiseReach, sigmaOfMean } from './noise-model.ts'
import { ordinateOf } from './ordinate.ts'
import { noCrosstalk } from './pulses.ts'
import type { ResultBuilder } from './result-builder.ts'
import { bandTooNarrow, findSettling, UNSETTLED, type Settling } from './settling.ts'
import { shareOfVolts } from './thresholds.ts'
import { addCrossing, crossingAt, crossingOf, interpolation, type Crossing } from './timing.ts'

/** Positions found on the way, samples of the part looked at. */
export interface Times {
  readonly onset: Crossing | null
  readonly arrival: Crossing | null
  readonly settling: Settling | null
  readonly low: number | null
  readonly high: number | null
  /** Duration between the reference levels, samples. */
  readonly duration: number | null
  readonly landmarks: Pick<
    Landmarks,
    | 'beforeWindow'
    | 'afterWindow'
    | 'beforeV'
    | 'afterV'
    | 'onsetS'
    | 'crossLowS'
    | 'crossMidS'
    | 'crossHighS'
    | 'arrivalAtS'
    | 'settledAtS'
    | 'startBandV'
    | 'endBandV'
    | 'referenceLowV'
    | 'referenceHighV'
    | 'overshootAtS'
    | 'overshootV'
    | 'undershootAtS'
    | 'undershootV'
  >
}

/** Largest detector-to-signal ratio up to which root-sum-square removes the detector within 1.5 %. */
export const CORRECTION_LIMIT = 0.2

/** Sentence for everything a strobed trace does not show. */
export function strobeReason(analysis: Analysis): string {
  const hz = analysis.strobe ? analysis.strobe.frequency * analysis.rate : 0
  return (
    `The backlight strobes at ${hz.toFixed(1)} Hz, so the light is seen in pulses only; ` +
    'see the pulse measures, or average over one period.'
  )
}

export function measureTimes(out: ResultBuilder, analysis: Analysis): Times {
  const { clock, thresholds, levels, dt, record, strobe } = analysis
  const seconds = (x: number | null | undefined): number | null =>
    x === null || x === undefined ? null : (x + record.offset) * dt
  let low: number | null = null
  let high: number | null = null
  let duration: number | null = null
  let onset: Crossing | null = null
  let arrival: Crossing | null = null
  let settling: Settling | null = null
  if (strobe) {
    const reason = strobeReason(analysis)
    for (const id of [
      'transition_duration_s',
      'transition_duration_corrected_s',
      'arrival_s',
      'settling_s',
      'integrated_error_s',
      'in_window',
    ] as const) {
      out.lack(id, reason)
    }
    strobeCompletion(out, analysis)
    const placed = handDuration(out, analysis.input)
    if (placed) [low, high] = placed.map((s) => s * analysis.rate - record.offset) as [number, number]
  } else {
    const found = measureDuration(out, analysis)
    low = found.low
    high = found.high
    duration = found.duration
    if (thresholds.startEdgeV !== null && thresholds.endEdgeV !== null) {
      onset = crossingOf(clock, thresholds.startEdgeV, thresholds.moves?.start)
      arrival = crossingOf(clock, thresholds.endEdgeV, thresholds.moves?.end)
    }
    settling = measureArrival(out, analysis, onset, arrival)
    measureFromOnset(out, analysis, onset)
    measureInWindow(out, analysis, onset, arrival)
  }
  return {
    onset,
    arrival,
    settling,
    low,
    high,
    duration,
    landmarks: {
      beforeWindow: [seconds(levels.beforeWindow[0]) ?? 0, seconds(levels.beforeWindow[1]) ?? 0],
      afterWindow: [seconds(levels.afterWindow[0]) ?? 0, seconds(levels.afterWindow[1]) ?? 0],
      beforeV: levels.beforeV,
      afterV: levels.afterV,
      onsetS: seconds(onset?.x),
      crossLowS: seconds(low),
      crossMidS: seconds(clock.mid),
      crossHighS: seconds(high),
      arrivalAtS: seconds(arrival?.x),
      settledAtS: seconds(settling?.at),
      startBandV: thresholds.startBandV,
      endBandV: thresholds.endBandV,
      referenceLowV: thresholds.low,
      referenceHighV: thresholds.high,
      overshootAtS: null,
      overshootV: null,
      undershootAtS: null,
      undershootV: null,
    },
  }
}

function measureDuration(
  out: ResultBuilder,
  analysis: Analysis,
): { low: number | null; high: number | null; duration: number | null } {
  const { clock, thresholds, dt, rate, record, input } = analysis
  const { recipe, override } = input
  const moved = (s: number | undefined): number | null => (s === undefined ? null : s * rate - record.offset)
  const lowMoved = moved(override?.crossLowS)
  const highMoved = moved(override?.crossHighS)
  const a =
    lowMoved === null
      ? thresholds.low === null
        ? null
        : crossingOf(clock, thresholds.low, thresholds.moves?.low)
      : movedCrossing(analysis, lowMoved)
  const b =
    highMoved === null
      ? thresholds.high === null
        ? null
        : crossingOf(clock, thresholds.high, thresholds.moves?.high)
      : movedCrossing(analysis, highMoved)
  const low = a?.x ?? null
  const high = b?.x ?? null
  const lack = (reason: string): void => {
    out.lack('transition_duration_s', reason)
    out.lack('transition_duration_corrected_s', reason)
  }
  if (a === null || b === null) {
    const missing = a === null ? 'start' : 'end'
    const exists = (a === null ? thresholds.low : thresholds.high) !== null
    lack(
      exists
        ? `The signal does not cross the reference level near its ${missing} level within the record.`
        : (thresholds.durationProblem ?? 'The reference levels are not defined.'),
    )
    return { low, high, duration: null }
  }
  const duration = b.x - a.x
  if (!(duration > 0)) {
    lack('The two crossings do not follow each other in time.')
    return { low, high, duration: null }
  }
  const durationS = duration * dt
  const detector = recipe.detectorS
  const ratio = detector === null ? null : detector / durationS
  openInterval(analysis, a, b)
  // Uncorrected, the detector lengthens the duration by up to its root-sum-square share: one-sided, uniform.
  if (detector !== null) addTerm('detector', (DETECTOR_BROADENS * broadenedBy(durationS, detector)) / dt / Math.sqrt(3))
  stateMeasure(out, 'transition_duration_s', durationS, dt)
  if (detector === null || ratio === null) {
    out.lack('transition_duration_corrected_s', DETECTOR_NOT_STATED)
  } else if (!recipe.correctDetector) {
    out.lack('transition_duration_corrected_s', 'The recipe does not ask for it.')
  } else {
    const rest = durationS * durationS - detector * detector
    const corrected = rest > 0 ? Math.sqrt(rest) : 0
    if (!(corrected > 0) || detector / corrected > CORRECTION_LIMIT) {
      out.lack(
        'transition_duration_corrected_s',
        `The detector’s ${(detector * 1e3).toPrecision(3)} ms is more than ${CORRECTION_LIMIT} of the duration; ` +
          'root-sum-square no longer holds.',
      )
    } else {
      // Error of root-sum-square for cascaded first-order responses: about 0.37 r² of the duration.
      const r = detector / corrected
      openInterval(analysis, a, b)
      const stretch = durationS / corrected
      addTerm('detector', (0.37 * r * r * corrected) / Math.sqrt(3) / dt / stretch)
      stateMeasure(out, 'transition_duration_corrected_s', corrected, dt * stretch)
    }
  }
  return { low, high, duration }
}

/** Budget of the time from one crossing to another, samples. */
function openInterval({ clock, levels, residuals }: Analysis, from: Crossing, to: Crossing): void {
  beginBudget()
  addCrossing(clock, to, 1)
  addCrossing(clock, from, -1)
  closeBudget(levels, residuals)
}

/** By how much a detector lengthens a duration as measured, by root-sum-square, both in one unit. */
export function broadenedBy(duration: number, detector: number): number {
  const rest = duration * duration - detector * detector
  return duration - (rest > 0 ? Math.sqrt(rest) : 0)
}

/**
 * Broadening of a first-order edge by a detector of one pole over what root-sum-square makes of it, at most (1.73 at a
 * ratio of 0.2, 1.48 at 0.55; other edges stay under it).
 */
export const DETECTOR_BROADENS = 1.75

/**
 * What a detector moves by at most, in parts of its own 10–90 % duration: the instant a band is entered against the onset,
 * and the onset against the light itself. Computed for one and four poles before first-order, cosine and ramp edges up
 * to a ratio of 0.55 (half widths of a uniform spread).
 */
const DETECTOR_ARRIVAL = 0.5
const DETECTOR_ONSET = 0.35

/** Adds the detector's part of a time from onset to the budget, samples. */
function addDetector({ input, rate }: Analysis, share: number): void {
  const { detectorS } = input.recipe
  if (detectorS !== null) addTerm('detector', (share * detectorS * rate) / Math.sqrt(3))
}

/**
 * Duration between two crossings that were both placed by hand, where the machine itself finds none: known to the
 * sample at either end. @returns their instants, s; null unless both were placed, one after the other.
 */
export function handDuration(out: ResultBuilder, { override, trace }: MeasureInput): [number, number] | null {
  const { crossLowS: low, crossHighS: high } = override ?? {}
  if (low === undefined || high === undefined) return null
  if (!(high > low)) {
    out.lack('transition_duration_s', 'The two crossings do not follow each other in time.')
    return null
  }
  out.set('transition_duration_s', high - low, Math.sqrt(2 / 12) / trace.sampleRateHz)
  return [low, high]
}

/** A crossing placed by a person: known to the sample. */
function movedCrossing(analysis: Analysis, x: number): Crossing {
  const { clock, raw } = analysis
  const volts = valueAt(clock.series, 0, Math.min(raw.n - 1, Math.max(0, x)))
  return crossingAt(clock, x, volts)
}

function measureArrival(
  out: ResultBuilder,
  analysis: Analysis,
  onset: Crossing | null,
  arrival: Crossing | null,
): Settling | null {
  const { clock, thresholds, levels, dt, noise, plateaus, residuals } = analysis
  const { series, scale } = clock
  if (thresholds.bandProblem !== null || onset === null || arrival === null || thresholds.endBandV === null) {
    const reason =
      thresholds.bandProblem ??
      (onset === null
        ? 'The signal is never inside its start band before the step.'
        : 'The signal never enters the end band within the record.')
    out.lack('arrival_s', reason)
    out.lack('settling_s', reason)
    return null
  }
  const [low, high] = thresholds.endBandV
  const room = Math.min(levels.afterV - low, high - levels.afterV)
  if (residuals.peakV > room) {
    const reason = bandTooNarrow('Ripple left in the trace', residuals.peakV, room)
    out.lack('arrival_s', reason)
    out.lack('settling_s', reason)
    return null
  }
  openInterval(analysis, onset, arrival)
  addDetector(analysis, DETECTOR_ARRIVAL)
  stateMeasure(out, 'arrival_s', (arrival.x - onset.x) * dt, dt)
  const dwell = series.n - arrival.x
  const ripplePeriod = plateaus.ripple ? 1 / plateaus.ripple.fundamental : 0
  const hold = Math.min(dwell / 2, Math.max(2, 0.02 * dwell, 1.5 * ripplePeriod))
  const settling = findSettling({
    series,
    noise,
    arrival: arrival.x,
    band: thresholds.endBandV,
    targetV: levels.afterV,
    scale,
    hold,
    left: { peakV: residuals.peakV, u: Math.hypot(levels.uAfterV, residuals.after.totalV) },
  })
  if ('problem' in settling) {
    out.lack('settling_s', settling.problem)
    return null
  }
  const entry =
    settling.at > arrival.x
      ? crossingAt(
          clock,
          settling.at,
          settling.edgeV,
          (settling.width - 1) >> 1,
          0,
          thresholds.moves?.end,
          levels.sign * (settling.edgeV - levels.afterV) > 0 ? -1 : 1,
        )
      : arrival
  openInterval(analysis, onset, entry)
  addTerm('decision', settling.doubt)
  addDetector(analysis, DETECTOR_ARRIVAL)
  stateMeasure(out, 'settling_s', (settling.at - onset.x) * dt, dt)
  return settling
}

function measureFromOnset(out: ResultBuilder, analysis: Analysis, onset: Crossing | null): void {
  const { clock, thresholds, levels, dt, noise, frame, input, codes, residuals } = analysis
  const { recipe } = input
  const { series, scale } = clock
  if (onset === null) {
    const reason = thresholds.bandProblem ?? 'The signal is never inside its start band before the step.'
    out.lack('integrated_error_s', reason)
    out.lack('first_frame_completion_pct', reason)
    return
  }
  const last = series.n - 1
  const ordinate = ordinateOf(recipe.ordinate, codes)
  if ('problem' in ordinate) {
    out.lack('integrated_error_s', ordinate.problem)
    out.lack('first_frame_completion_pct', ordinate.problem)
    return
  }
  // Completion: read through the mean that the crossings near the end level use.
  if (frame === null) out.lack('first_frame_completion_pct', 'The refresh rate is not known.')
  else if (onset.x + frame > last) out.lack('first_frame_completion_pct', 'The record ends within the first frame.')
  else {
    const at = onset.x + frame
    const reading = readAt(series, noise, at, Math.min(scale / 40, frame / 40))
    const share = shareOfVolts(levels, recipe.ordinate, codes, reading.volts)
    if (share === null) out.lack('first_frame_completion_pct', 'The ordinate needs a ladder.')
    else {
      const step = 1e-3 * levels.stepV
      const gradient = ((shareOfVolts(levels, recipe.ordinate, codes, reading.volts + step) ?? share) - share) / step
      const part = (reading.volts - levels.beforeV) / levels.stepV
      beginBudget()
      const bentV = bentBy(series, clock.meanWidth, at)
      addRead({ x: at, width: reading.width, share: part, gradient: reading.slope, bentV }, 1, residuals)
      addCrossing(clock, onset, reading.slope)
      addLevels(levels, part - 1, -part)
      addTerm('noise', reading.kinkV)
      addTerm('interpolation', reading.slope * interpolation(series, at, noise.sigmaV) * (reading.width > 1 ? 0 : 1))
      if (recipe.detectorS !== null)
        addTerm('detector', (DETECTOR_ONSET * recipe.detectorS * analysis.rate * reading.slope) / Math.sqrt(3))
      closeBudget(levels, residuals)
      stateMeasure(out, 'first_frame_completion_pct', 100 * share, 100 * gradient)
    }
  }
  const to = recipe.errorSpanS === null ? last : onset.x + recipe.errorSpanS / dt
  if (to > last) {
    out.lack('integrated_error_s', 'The record ends before the span of the integrated error.')
    return
  }
  const samples = to - onset.x
  const half = halfWidthFor(noise, samples, 0.0025 * Math.abs(levels.stepV), scale / 4)
  const guard =
    (noise.sigmaV > 0 ? noiseReach(noise, samples, 2 * half + 1) * sigmaOfMean(noise, 2 * half + 1) : 0) +
    residuals.peakV
  if (ordinate.scale !== null) {
    const { of } = ordinate.scale
    const first = Math.max(0, Math.floor(onset.x))
    const mapped = mapStretch(series, first, series.n, of)
    const c1 = of(levels.beforeV)
    const c2 = of(levels.afterV)
    const perVolt = Math.abs(of(levels.afterV + guard) - of(levels.afterV - guard)) / 2
    const { total } = integrateError(mapped, onset.x - first, to - first, c2, half, perVolt)
    const gradient = Math.abs((c2 - c1) / levels.stepV)
    // Near black the end level's uncertainty is many codes or L*, all through the span.
    const doubtV = Math.hypot(levels.uAfterV, residuals.after.totalV)
    const beyond = Math.abs(of(levels.afterV + doubtV) - of(levels.afterV - doubtV)) / 2 - doubtV * gradient
    openError(analysis, onset, to, [], total / gradient)
    addTerm('ladder', (Math.max(0, beyond) * samples) / gradient)
    stateMeasure(out, 'integrated_error_s', (total / Math.abs(c2 - c1)) * dt, (gradient * dt) / Math.abs(c2 - c1))
    return
  }
  const { total, turns } = integrateError(series, onset.x, to, levels.afterV, half, guard)
  openError(analysis, onset, to, turns, total)
  stateMeasure(out, 'integrated_error_s', (total / Math.abs(levels.stepV)) * dt, dt / Math.abs(levels.stepV))
}

/**
 * Budget of an integrated error, V × samples: the samples themselves with the sign of their side, the end level all
 * through, the onset with the error there, and the step it is divided by. `turns` are where the error changes side.
 */
function openError(analysis: Analysis, onset: Crossing, to: number, turns: readonly number[], total: number): void {
  const { clock, levels, residuals } = analysis
  const stepV = Math.abs(levels.stepV)
  beginBudget()
  // How long the signal takes to come within one of the converter's steps.
  const { lsbV, roundingV } = residuals
  const within = roundingV > 0 && lsbV > 0 ? lastBeyond(clock.series, onset.x, to, levels.afterV, lsbV) - onset.x : 0
  const passing = Math.max(2 * clock.scale, within)
  let side: number = levels.sign
  let from = onset.x
  let onTarget = 0
  for (let i = 0; i <= turns.length; i++) {
    const end = turns[i] ?? to
    if (end > from) {
      // On its way the signal passes many of the converter's steps and is lit less.
      const way = Math.min(end, Math.max(from, onset.x + passing))
      addStretch(from + 0.5, way + 0.5, -side * (way - from), 0.5)
      addStretch(way + 0.5, end + 0.5, -side * (end - way), 1)
      onTarget += side * (end - from)
    }
    side = -side
    from = end
  }
  const ratio = (total / stepV) * levels.sign
  addLevels(levels, ratio, onTarget - ratio)
  addCrossing(clock, onset, -(1 - onset.share) * stepV)
  // A mean over W moves no area but past the ends: W²/24 of the slope at the onset.
  if (clock.meanWidth > 0)
    addBent((clock.meanWidth ** 2 / 24) * slopeOfMean(clock.series, clock.meanWidth, onset.x) * levels.sign)
  // What stays of a tail below half a step is not seen at all: so much over its time constant.
  addTerm(
    'rounding',
    roundingV * Math.max(clock.scale / Math.log(9), within / Math.log(Math.max(Math.E, stepV / lsbV))),
  )
  // The trapezoids between the samples: their error adds up to a twelfth of the steepest change, from a corner on to half.
  const { v, n } = clock.series
  const k = Math.min(n - 3, Math.max(0, Math.floor(onset.x)))
  const steepest = Math.max(Math.abs(v[k + 1]! - v[k]!), Math.abs(v[k + 2]! - v[k + 1]!))
  const seen = Math.sqrt(Math.max(0, steepest ** 2 - 2 * residuals.noise.sigmaV ** 2))
  addTerm('interpolation', (interpolation(clock.series, onset.x, residuals.noise.sigmaV) + 1 / 12) * seen)
  if (analysis.input.recipe.detectorS !== null) addDetector(analysis, DETECTOR_ONSET * stepV)
  closeBudget(levels, residuals)
}

/** Last position at which the series is further than `distance` from a level, between `from` and `to`. */
function lastBeyond({ v }: Series, from: number, to: number, level: number, distance: number): number {
  let k = Math.floor(to)
  while (k > from && Math.abs(v[k]! - level) <= distance) k--
  return Math.max(from, k)
}

/** U95 over u. */
const COVERAGE = 2

function measureInWindow(
  out: ResultBuilder,
  analysis: Analysis,
  onset: Crossing | null,
  arrival: Crossing | null,
): void {
  const { frame, input, dt, raw } = analysis
  const { of, tolerancePct } = input.recipe.inWindow
  if (frame === null) {
    out.lack('in_window', 'The refresh rate is not known.')
    return
  }
  const limit = frame * dt * (1 + tolerancePct / 100)
  const value = out.value(of === 'settling' ? 'settling_s' : 'arrival_s')
  if (value !== null) {
    const u = out.uncertainty(of === 'settling' ? 'settling_s' : 'arrival_s') ?? 0
    if (Math.abs(value - limit) <= COVERAGE * u) out.lack('in_window', UNDECIDED)
    else out.set('in_window', value <= limit ? 1 : 0)
    return
  }
  // Never settling within a record longer than the window answers the question.
  const recorded = onset === null ? 0 : (raw.n - 1 - onset.x) * dt
  const unsettled = out.reason('settling_s') === UNSETTLED
  const never = of === 'settling' ? arrival !== null && unsettled : onset !== null && arrival === null
  if (never && recorded > limit) out.set('in_window', 0)
  else out.lack('in_window', out.reason(of === 'settling' ? 'settling_s' : 'arrival_s') ?? 'It is not defined.')
}

/** First-frame completion of a strobed panel: the share of the step that shows in the first pulse after it. */
function strobeCompletion(out: ResultBuilder, analysis: Analysis): void {
  const { pulses } = analysis
  if (!pulses || pulses.crosstalkPct === null) {
    out.lack('first_frame_completion_pct', pulses ? noCrosstalk(pulses) : 'Too few pulses are recorded.')
    return
  }
  out.set('first_frame_completion_pct', 100 - pulses.crosstalkPct, pulses.uCrosstalkPct)
}
