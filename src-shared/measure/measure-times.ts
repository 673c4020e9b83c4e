/** Duration, arrival and settling, with the instants found on the way. */
import type { MeasureInput } from '../domain/measure-input.ts'
import { DETECTOR_NOT_STATED, type Landmarks } from '../domain/result.ts'
import { valueAt } from '../signal/series.ts'
import type { Analysis } from './analysis.ts'
import { addTerm, beginBudget, closeBudget, stateMeasure } from './budget.ts'
import { addDetector, broadenedBy, CORRECTION_LIMIT, DETECTOR_ARRIVAL, DETECTOR_BROADENS } from './detector-terms.ts'
import { measureFromOnset } from './from-onset.ts'
import { measureInWindow } from './in-window.ts'
import { noCrosstalk } from './pulses.ts'
import type { ResultBuilder } from './result-builder.ts'
import { bandTooNarrow, findSettling, type Settling } from './settling.ts'
import { addCrossing, crossingAt, crossingOf, type Crossing } from './timing.ts'

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

/** First-frame completion of a strobed panel: the share of the step that shows in the first pulse after it. */
function strobeCompletion(out: ResultBuilder, analysis: Analysis): void {
  const { pulses } = analysis
  if (!pulses || pulses.crosstalkPct === null) {
    out.lack('first_frame_completion_pct', pulses ? noCrosstalk(pulses) : 'Too few pulses are recorded.')
    return
  }
  out.set('first_frame_completion_pct', 100 - pulses.crosstalkPct, pulses.uCrosstalkPct)
}
