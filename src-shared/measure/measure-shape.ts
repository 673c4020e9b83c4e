import type { Ladder } from '../domain/capture.ts'
import type { Landmarks } from '../domain/result.ts'
import type { Analysis } from './analysis.ts'
import { addMean, beginWeights, weightsVariance } from './linear-result.ts'
import { bentBy } from './bending.ts'
import { addLevels, addRead, addTerm, beginBudget, budgetU, closeBudget, stateMeasure } from './budget.ts'
import { broadening, RINGING_LIMIT_PCT } from './broadening.ts'
import { findExcursions, type Excursion, type Excursions } from './excursions.ts'
import { codeOfVolts } from './ladder-curve.ts'
import { interpolationU } from './ladder-doubt.ts'
import { strobeReason, type Times } from './measure-times.ts'
import { valueAt } from '../signal/series.ts'
import type { ResultBuilder } from './result-builder.ts'

export interface Shape {
  readonly excursions: Excursions | null
  /** One past the last sample in which excursions were looked for. */
  readonly end: number
  readonly landmarks: Pick<Landmarks, 'overshootAtS' | 'overshootV' | 'undershootAtS' | 'undershootV'>
}

const NAMES = ['overshoot', 'undershoot'] as const

/** Overshoot and undershoot in % of the luminance step and in codes, with instant and length. */
export function measureShape(out: ResultBuilder, analysis: Analysis, times: Times): Shape {
  const { clock, levels, thresholds, dt, record, noise, raw, input, rate, strobe, residuals } = analysis
  const landmarks = { overshootAtS: null, overshootV: null, undershootAtS: null, undershootV: null }
  const lackAll = (reason: string): Shape => {
    for (const name of NAMES) {
      for (const suffix of ['pct', 'code', 'instant_s', 'length_s'] as const) out.lack(`${name}_${suffix}`, reason)
    }
    return { excursions: null, end: raw.n, landmarks }
  }
  if (strobe) return lackAll(strobeReason(analysis))
  const own = broadening(input.recipe.condition, rate)
  if (own && own.ringingPct > RINGING_LIMIT_PCT) {
    return lackAll(
      `The recipe’s filter itself overshoots an ideal step by ${own.ringingPct.toFixed(1)} %; ` +
        'choose another conditioning to measure overshoot.',
    )
  }
  // The target is read from the window at the end of the dwell: what happens inside it is drift, not overshoot.
  const [windowFirst, windowEnd] = levels.afterWindow
  const from = times.arrival?.x ?? clock.mid
  const fromWindow = input.recipe.levels.kind === 'windows' || input.override?.afterWindow !== undefined
  const ownWindow = fromWindow && windowEnd >= raw.n - 0.05 * (raw.n - from)
  const end = ownWindow && windowFirst > from + 2 ? windowFirst : raw.n
  const excursions = findExcursions(
    clock.series,
    noise,
    from,
    end,
    levels.afterV,
    levels.stepV,
    clock.scale,
    thresholds.bandProblem === null ? thresholds.endBandV : null,
    residuals.peakV + residuals.after.driftV,
    apartV(analysis, from, end),
  )
  const step = Math.abs(levels.stepV)
  const limitPct = (100 * excursions.limitV) / step
  for (const name of NAMES) {
    const side = excursions[name]
    openExcursion(analysis, side, name === 'overshoot' ? levels.sign : -levels.sign)
    const uV = budgetU()
    stateMeasure(out, `${name}_pct`, (100 * side.sizeV) / step, 100 / step)
    reportCodes(out, analysis, name, side, uV)
    if (side.at === null) {
      out.lack(`${name}_instant_s`, noneReason(name, limitPct))
    } else if (times.onset === null) {
      out.lack(`${name}_instant_s`, thresholds.bandProblem ?? 'The onset was not found.')
    } else {
      out.set(`${name}_instant_s`, (side.at - times.onset.x) * dt, excursions.width * dt * 0.5)
    }
    if (thresholds.bandProblem !== null) out.lack(`${name}_length_s`, thresholds.bandProblem)
    else if (side.length === null) out.lack(`${name}_length_s`, 'The excursion has not ended where the record does.')
    else out.set(`${name}_length_s`, side.length * dt, Math.SQRT1_2 * excursions.width * dt)
  }
  const seconds = (x: number | null): number | null => (x === null ? null : (x + record.offset) * dt)
  const { overshoot, undershoot } = excursions
  return {
    excursions,
    end,
    landmarks: {
      overshootAtS: seconds(overshoot.at),
      overshootV: overshoot.volts,
      undershootAtS: seconds(undershoot.at),
      undershootV: undershoot.volts,
    },
  }
}

/** What slow noise makes the beginning of the search and the level after the step differ by: standard uncertainty, V. */
function apartV({ noise, levels }: Analysis, from: number, end: number): number {
  const [first, last] = levels.usedAfter
  const length = Math.min(end - from, last - first)
  if (!(noise.sigmaV > 0) || !(length > 0)) return 0
  beginWeights()
  addMean(from, from + length, 1, 1)
  addMean(first, last, -1, 1)
  return Math.sqrt(weightsVariance(noise))
}

function noneReason(name: string, limitPct: number): string {
  return limitPct > 1e-4
    ? `No ${name} beyond the ${limitPct.toPrecision(2)} % that noise alone would reach.`
    : `There is no ${name}.`
}

/**
 * What a detector of one pole takes off an extreme, over how far the signal has dropped at its 10–90 % duration to either
 * side: 1/4.83 for a parabola (half its curvature times τ²), 0.23 for a corner (computed).
 */
const DETECTOR_ROUNDS = 0.25

/** Budget of an excursion's size, V, the step it is divided by included; `side` is the sign of its voltage. */
function openExcursion({ levels, residuals, clock, input, rate }: Analysis, excursion: Excursion, side: number): void {
  beginBudget()
  const ratio = (excursion.sizeV / Math.abs(levels.stepV)) * levels.sign
  if (excursion.at === null || excursion.volts === null) addTerm('noise', excursion.uV)
  else {
    const share = (excursion.volts - levels.beforeV) / levels.stepV
    const bentV = bentBy(clock.series, clock.meanWidth, excursion.at)
    addRead({ x: excursion.at, width: Math.max(1, excursion.worth), share, gradient: 0, bentV }, side, residuals)
    addTerm('interpolation', excursion.openV)
    const { detectorS } = input.recipe
    if (detectorS !== null) {
      const { series } = clock
      const reach = Math.max(1, detectorS * rate)
      const half = Math.floor(reach / 4)
      const beside = (valueAt(series, half, excursion.at - reach) + valueAt(series, half, excursion.at + reach)) / 2
      addTerm('detector', (DETECTOR_ROUNDS * Math.max(0, side * (excursion.volts - beside))) / Math.sqrt(3))
    }
    // The extreme is taken where lines that are left reach furthest.
    addTerm('ripple', residuals.peakV / Math.sqrt(3))
  }
  addLevels(levels, ratio, -side - ratio)
  closeBudget(levels, residuals)
}

/** Size of an excursion in codes: distance between the codes of its extreme and of the target, never clamped. */
function reportCodes(
  out: ResultBuilder,
  analysis: Analysis,
  name: (typeof NAMES)[number],
  side: Excursion,
  uV: number,
): void {
  const { codes, levels } = analysis
  const id = `${name}_code` as const
  if (!('curve' in codes)) {
    out.lack(id, `Codes need a ladder. ${codes.problem}`)
    return
  }
  const target = codeOfVolts(codes.curve, levels.afterV)
  const volts = side.volts ?? levels.afterV
  const direction = name === 'overshoot' ? levels.sign : -levels.sign
  const size = Math.abs(codeOfVolts(codes.curve, volts) - target)
  const nearby = codeOfVolts(codes.curve, volts + direction * uV) - codeOfVolts(codes.curve, volts - direction * uV)
  const { ladder } = analysis.input
  const read = side.volts === null || ladder === null ? [] : [side.volts, levels.afterV]
  const uLadder = Math.hypot(...read.map((at) => interpolationU(ladder as Ladder, codes.curve, at)))
  const uVolts = Math.abs(nearby) / 2
  out.set(id, size, Math.hypot(uVolts, uLadder), uLadder)
  if (out.terms)
    out.terms[id] = [
      { name: 'Size in volts', u: uVolts, averages: true },
      { name: 'Ladder between its levels', u: uLadder, averages: false },
    ]
}
