import type { Ladder } from '../domain/capture.ts'
import type { Landmarks } from '../domain/result.ts'
import type { Analysis } from './analysis.ts'
import { broadening, RINGING_LIMIT_PCT } from './broadening.ts'
import { findExcursions, type Excursion, type Excursions } from './excursions.ts'
import { codeOfVolts } from './ladder-curve.ts'
import { interpolationU } from './ladder-doubt.ts'
import { strobeReason, type Times } from './measure-times.ts'
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
  const { clock, levels, thresholds, dt, record, noise, raw, input, rate, plateaus, strobe } = analysis
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
  )
  const conditioned = input.recipe.condition.kind !== 'none' && input.recipe.condition.kind !== 'low-pass'
  // Ripple that is left in the trace rides on every excursion.
  const rippleV = plateaus.ripple && !conditioned ? plateaus.ripple.peakToPeakV / 2 / Math.sqrt(3) : 0
  const step = Math.abs(levels.stepV)
  const limitPct = (100 * excursions.limitV) / step
  for (const name of NAMES) {
    const side = excursions[name]
    const uV = Math.hypot(side.uV, levels.uAfterV, rippleV)
    const uStep = Math.hypot(levels.uBeforeV, levels.uAfterV)
    const u = (100 * Math.hypot(uV, (side.sizeV / step) * uStep)) / step
    out.set(`${name}_pct`, (100 * side.sizeV) / step, u)
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

function noneReason(name: string, limitPct: number): string {
  return limitPct > 1e-4
    ? `No ${name} beyond the ${limitPct.toPrecision(2)} % that noise alone would reach.`
    : `There is no ${name}.`
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
  out.set(id, size, Math.hypot(nearby / 2, uLadder))
}
