import { type Series } from '../../signal/series.ts'
import type { Analysis } from '../analysis.ts'
import { windowDrift } from '../levels.ts'
import type { Times } from '../measure-times.ts'
import { spanOf, type Doubts } from './doubts.ts'
import { LIMITS } from './limits.ts'
import { findTail } from './tail.ts'
import { pct, volts } from './words.ts'

/** Drift of the plateaus, and an end of the dwell that has not reached its level. `series` is the one measured, without hum. */
export function flagPlateaus(doubts: Doubts, analysis: Analysis, times: Times, series: Series): void {
  const { strobe, plateaus } = analysis
  const period = strobe ? 1 / strobe.frequency : rippleLeft(analysis) > 0 ? 1 / plateaus.ripple!.fundamental : 0
  const even = flagEvenDrift(doubts, analysis, times, series, period)
  if (!even) flagWindowDrift(doubts, analysis, series, period)
  // An even drift moves the end of the dwell as well, and towards no level.
  if (!even) flagTail(doubts, analysis, times, series, period)
}

/** Peak-to-peak ripple that conditioning has left in the trace, V. */
function rippleLeft(analysis: Analysis): number {
  const { kind } = analysis.input.recipe.condition
  const { ripple } = analysis.plateaus
  return ripple && (kind === 'none' || kind === 'low-pass') ? ripple.peakToPeakV : 0
}

/** Standard uncertainty of the change that noise feigns through a window of n samples: √12 σ/√n. */
function uDrift(analysis: Analysis, n: number): number {
  const { noise } = analysis
  return noise.sigmaV * Math.sqrt((12 * noise.correlation) / n)
}

interface Slope {
  /** Drift through the whole record at the window's slope, V, and its standard uncertainty. */
  readonly driftV: number
  readonly uV: number
}

/** Share of the dwell at its end that even drift is read from. */
const LATE = 0.3
/** Drift that exceeds noise by less than this is not believed. */
const NOISE_REACH = 5
/** Part of the drift by which the parts of the record may differ. */
const AGREEMENT = 0.5

/**
 * Even drift of the whole record: before the step and late in the dwell (and in both halves of that) the signal moves
 * at one and the same speed. A settling tail slows down instead and does not count.
 */
function flagEvenDrift(doubts: Doubts, analysis: Analysis, times: Times, series: Series, period: number): boolean {
  const { clock, levels, conditioned, noise } = analysis
  const n = series.n
  // The centred mean narrows at the record's ends, where ripple shows again.
  const margin = Math.ceil(conditioned.meanWidth / 2)
  const beforeEnd = Math.max(
    levels.beforeWindow[1],
    (times.onset?.x ?? 0) - 0.25 * clock.scale - conditioned.meanWidth / 2,
  )
  const lateFirst = Math.ceil(n - LATE * (n - clock.mid))
  const slope = (first: number, end: number): Slope | null => {
    const length = end - first
    if (length < 16 || length < 2 * period || length < 4 * noise.correlation) return null
    const factor = n / length
    const ripple = (rippleLeft(analysis) * Math.min(1, period / length)) / 10
    return {
      driftV: windowDrift(series, [first, end], period) * factor,
      uV: Math.hypot(uDrift(analysis, length), ripple, 0.001 * levels.stepV) * factor,
    }
  }
  const before = slope(margin, Math.floor(beforeEnd))
  const late = slope(lateFirst, n - margin)
  if (before === null || late === null) return false
  const middle = (lateFirst + n - margin) >> 1
  const halves = [slope(lateFirst, middle), slope(middle, n - margin)]
  const weight = 1 / before.uV ** 2 + 1 / late.uV ** 2
  const driftV = (before.driftV / before.uV ** 2 + late.driftV / late.uV ** 2) / weight
  const uV = 1 / Math.sqrt(weight)
  const step = Math.abs(levels.stepV)
  const value = (100 * Math.abs(driftV)) / step
  if (value <= LIMITS.recordDriftPct || Math.abs(driftV) <= NOISE_REACH * uV) return false
  for (const part of [before, late, ...halves]) {
    if (part === null) continue
    if (Math.abs(part.driftV - driftV) > Math.max(4 * part.uV, AGREEMENT * Math.abs(driftV))) return false
  }
  doubts.raise({
    id: 'plateau-drift',
    evidence: `The signal drifts by ${volts(driftV)} through the record, ${pct(value)} of the step, evenly before and after the step.`,
    value,
    limit: LIMITS.recordDriftPct,
    unit: '%',
    span: spanOf(analysis, 0, n - 1),
  })
  return true
}

function flagWindowDrift(doubts: Doubts, analysis: Analysis, series: Series, period: number): void {
  const { levels } = analysis
  const step = Math.abs(levels.stepV)
  for (const [name, window] of [
    ['before', levels.beforeWindow],
    ['after', levels.afterWindow],
  ] as const) {
    const drift = windowDrift(series, window, period)
    const u = uDrift(analysis, window[1] - window[0])
    const value = (100 * Math.abs(drift)) / step
    if (value <= LIMITS.driftPct || Math.abs(drift) <= 4 * u) continue
    doubts.raise({
      id: 'plateau-drift',
      evidence: `The plateau ${name} the step drifts by ${volts(drift)}, ${pct(value)} of the step.`,
      value,
      limit: LIMITS.driftPct,
      unit: '%',
      span: spanOf(analysis, window[0], window[1] - 1),
    })
  }
}

/** Plateau not reached: the tail still creeps towards a level it has not got to, or the end band was entered late. */
function flagTail(doubts: Doubts, analysis: Analysis, times: Times, series: Series, period: number): void {
  const { levels, clock, noise, conditioned } = analysis
  const [first, end] = levels.afterWindow
  const span = spanOf(analysis, first, end - 1)
  const step = Math.abs(levels.stepV)
  const tail = findTail(series, noise, clock.mid, clock.scale, {
    period,
    rippleV: rippleLeft(analysis),
    margin: Math.ceil(conditioned.meanWidth / 2),
  })
  const missingV = tail === null ? 0 : tail.finalV - levels.afterV
  const value = (100 * Math.abs(missingV)) / step
  if (tail !== null && value > LIMITS.tailPct && Math.abs(missingV) > 4 * tail.uV) {
    doubts.raise({
      id: 'plateau-not-reached',
      evidence: `The end of the dwell still moves; it leads ${volts(missingV)} (${pct(value)} of the step) beyond the level taken.`,
      value,
      limit: LIMITS.tailPct,
      unit: '%',
      span,
    })
    return
  }
  // Hum leaves the band again and again.
  if (doubts.has('hum')) return
  if (times.settling && times.settling.at > first && end >= series.n - 1) {
    doubts.raise({
      id: 'plateau-not-reached',
      evidence: `The signal settles only inside the window its end level is taken from.`,
      value: (times.settling.at + analysis.record.offset) * analysis.dt,
      limit: (first + analysis.record.offset) * analysis.dt,
      unit: 's',
      span,
    })
  }
}

