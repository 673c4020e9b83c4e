import type { MeasureInput } from '../domain/measure-input.ts'
import { DETECTOR_NOT_STATED, type Landmarks } from '../domain/result.ts'
import { valueAt } from '../signal/series.ts'
import type { Analysis } from './analysis.ts'
import { integrateError, mapStretch } from './integrated-error.ts'
import { halfWidthFor, noiseReach, sigmaOfMean } from './noise-model.ts'
import { ordinateOf } from './ordinate.ts'
import { noCrosstalk } from './pulses.ts'
import type { ResultBuilder } from './result-builder.ts'
import { findSettling, UNSETTLED, type Settling } from './settling.ts'
import { shareOfVolts } from './thresholds.ts'
import { crossingAt, crossingOf, uInterval, type Crossing } from './timing.ts'

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
  let u = uInterval(a, b) * dt
  const detector = recipe.detectorS
  const ratio = detector === null ? null : detector / durationS
  if (detector !== null) {
    // Uncorrected, the detector lengthens the duration by up to its root-sum-square share: one-sided, uniform.
    const rest = durationS * durationS - detector * detector
    u = Math.hypot(u, (durationS - (rest > 0 ? Math.sqrt(rest) : 0)) / Math.sqrt(3))
  }
  out.set('transition_duration_s', durationS, u)
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
      const noise = uInterval(a, b) * dt * (durationS / corrected)
      out.set(
        'transition_duration_corrected_s',
        corrected,
        Math.hypot(noise, (0.37 * r * r * corrected) / Math.sqrt(3)),
      )
    }
  }
  return { low, high, duration }
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
  const { clock, thresholds, levels, dt, noise, plateaus } = analysis
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
  out.set('arrival_s', (arrival.x - onset.x) * dt, uInterval(onset, arrival) * dt)
  const dwell = series.n - arrival.x
  const ripplePeriod = plateaus.ripple ? 1 / plateaus.ripple.fundamental : 0
  const hold = Math.min(dwell / 2, Math.max(2, 0.02 * dwell, 1.5 * ripplePeriod))
  const settling = findSettling(series, noise, arrival.x, thresholds.endBandV, levels.afterV, scale, hold)
  if ('problem' in settling) {
    out.lack('settling_s', settling.problem)
    return null
  }
  const entry =
    settling.at > arrival.x
      ? crossingAt(clock, settling.at, arrival.volts, (settling.width - 1) >> 1, 0, thresholds.moves?.end)
      : arrival
  // An excursion smaller than the guard may lie unseen between this entry and a later one; it moves a first-order
  // tail by guard over slope.
  const unseen = settling.guardV / Math.max(entry.slope, settling.guardV / scale) / Math.sqrt(3)
  out.set('settling_s', (settling.at - onset.x) * dt, Math.hypot(uInterval(onset, entry), unseen) * dt)
  return settling
}

function measureFromOnset(out: ResultBuilder, analysis: Analysis, onset: Crossing | null): void {
  const { clock, thresholds, levels, dt, noise, frame, input, codes } = analysis
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
    const half = Math.max(0, Math.floor((Math.min(scale / 20, frame / 20) - 1) / 2))
    const used = noise.sigmaV > 0 ? half : 0
    const at = onset.x + frame
    const volts = valueAt(series, used, at)
    const share = shareOfVolts(levels, recipe.ordinate, codes, volts)
    if (share === null) out.lack('first_frame_completion_pct', 'The ordinate needs a ladder.')
    else {
      const slope = Math.abs(valueAt(series, used, at + 1) - valueAt(series, used, at - 1)) / 2
      const uV = Math.hypot(
        sigmaOfMean(noise, 2 * used + 1),
        slope * Math.hypot(onset.sigmaV / onset.slope, levels.uBeforeV / onset.slope),
        levels.uBeforeV * (1 - share),
        levels.uAfterV * share,
      )
      const step = 1e-3 * levels.stepV
      const gradient = ((shareOfVolts(levels, recipe.ordinate, codes, volts + step) ?? share) - share) / step
      out.set('first_frame_completion_pct', 100 * share, 100 * Math.abs(gradient) * uV)
    }
  }
  const to = recipe.errorSpanS === null ? last : onset.x + recipe.errorSpanS / dt
  if (to > last) {
    out.lack('integrated_error_s', 'The record ends before the span of the integrated error.')
    return
  }
  const samples = to - onset.x
  const half = halfWidthFor(noise, samples, 0.0025 * Math.abs(levels.stepV), scale / 4)
  const guard = noise.sigmaV > 0 ? noiseReach(noise, samples, 2 * half + 1) * sigmaOfMean(noise, 2 * half + 1) : 0
  // The onset's own uncertainty counts in full: the error is the whole step there.
  const uOnset = Math.hypot(onset.sigmaV, levels.uBeforeV) / onset.slope
  const uVoltSamples = Math.hypot(
    noise.sigmaV * Math.sqrt(samples * noise.correlation),
    levels.uAfterV * samples,
    Math.hypot(uOnset, onset.spread / Math.sqrt(12)) * levels.stepV,
  )
  if (ordinate.scale !== null) {
    const { of } = ordinate.scale
    const first = Math.max(0, Math.floor(onset.x))
    const mapped = mapStretch(series, first, series.n, of)
    const c1 = of(levels.beforeV)
    const c2 = of(levels.afterV)
    const perVolt = Math.abs(of(levels.afterV + guard) - of(levels.afterV - guard)) / 2
    const error = integrateError(mapped, onset.x - first, to - first, c2, half, perVolt)
    const gradient = Math.abs((c2 - c1) / levels.stepV)
    // Near black the end level's uncertainty is many codes or L*, all through the span.
    const ofU = (uV: number): number => Math.abs(of(levels.afterV + uV) - of(levels.afterV - uV)) / 2
    const uError = Math.hypot(uVoltSamples * gradient, ofU(levels.uEdgeAfterV) * samples)
    out.set('integrated_error_s', (error / Math.abs(c2 - c1)) * dt, (uError * dt) / Math.abs(c2 - c1))
    return
  }
  const error = integrateError(series, onset.x, to, levels.afterV, half, guard)
  out.set('integrated_error_s', (error / Math.abs(levels.stepV)) * dt, (uVoltSamples / Math.abs(levels.stepV)) * dt)
}

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
    out.set('in_window', value <= limit ? 1 : 0)
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
