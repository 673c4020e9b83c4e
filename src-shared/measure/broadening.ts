import { filterInPlace, lowPassInPlace, lowPassSections, type LowPassShape } from '../signal/low-pass.ts'
import { firstOrderTauOf } from '../signal/first-order-box.ts'
import { savitzkyGolayWeights } from '../signal/savitzky-golay.ts'
import type { Condition } from './condition.ts'

/** What conditioning itself does to an ideal step. */
export interface Broadening {
  /** Its own 10–90 % step duration, s; 0 when it leaves steps alone. */
  readonly durationS: number
  /** Width of the mean, s; null for every other kind. */
  readonly meanS: number | null
  /** Overshoot of an ideal step, % of it. */
  readonly ringingPct: number
}

/** Ringing above this makes overshoot of the conditioned trace meaningless (Bessel stays under 1 %). */
export const RINGING_LIMIT_PCT = 1

const shapes = new Map<string, { durationPerPeriod: number; ringingPct: number }>()

/** 10–90 % duration × cut-off and overshoot of a low-pass, from its own response to a finely sampled step. */
function shapeFacts(shape: LowPassShape, phase: 'zero' | 'causal'): { durationPerPeriod: number; ringingPct: number } {
  const key = `${shape} ${phase}`
  let facts = shapes.get(key)
  if (!facts) {
    const perPeriod = 400
    const values = new Float64Array(perPeriod * 12)
    values.fill(1, values.length / 2)
    const sections = lowPassSections(shape, 1, perPeriod)
    if (sections) {
      if (phase === 'zero') lowPassInPlace(values, sections, 'zero')
      else filterInPlace(values, sections)
    }
    facts = stepFacts(values)
    facts = { durationPerPeriod: facts.durationPerPeriod / perPeriod, ringingPct: facts.ringingPct }
    shapes.set(key, facts)
  }
  return facts
}

/** 10–90 % width in samples and overshoot in % of a step response from 0 to 1. */
function stepFacts(values: ArrayLike<number>): { durationPerPeriod: number; ringingPct: number } {
  const cross = (level: number): number => {
    for (let k = 1; k < values.length; k++) {
      const a = values[k - 1]!
      const b = values[k]!
      if (b >= level) return k - 1 + (b > a ? (level - a) / (b - a) : 1)
    }
    return values.length - 1
  }
  let max = 0
  for (let k = 0; k < values.length; k++) max = Math.max(max, values[k]!)
  return { durationPerPeriod: cross(0.9) - cross(0.1), ringingPct: Math.max(0, 100 * (max - 1)) }
}

/**
 * Broadening of an ideal step by conditioning. `rippleHz` is the detected ripple, used where the recipe names none;
 * without either, a one-period mean has no width yet and null is returned. Null too for a low-pass whose cut-off is
 * not below half the sample rate.
 */
export function broadening(
  condition: Condition,
  sampleRateHz: number,
  rippleHz: number | null = null,
): Broadening | null {
  switch (condition.kind) {
    case 'none':
    case 'divide':
      return { durationS: 0, meanS: null, ringingPct: 0 }
    case 'one-period-mean': {
      const frequency = condition.frequencyHz ?? rippleHz
      if (frequency === null || !(frequency > 0)) return null
      const meanS = condition.periods / frequency
      return { durationS: 0.8 * meanS, meanS, ringingPct: 0 }
    }
    case 'low-pass': {
      if (!(condition.cutoffHz < sampleRateHz / 2)) return null
      const facts = shapeFacts(condition.shape, condition.phase)
      return { durationS: facts.durationPerPeriod / condition.cutoffHz, meanS: null, ringingPct: facts.ringingPct }
    }
    case 'savitzky-golay':
      break
  }
  const weights = savitzkyGolayWeights(condition.points, condition.order)
  const response = new Float64Array(weights.length + 1)
  for (let k = 0; k < weights.length; k++) response[k + 1] = response[k]! + weights[k]!
  const facts = stepFacts(response)
  return { durationS: facts.durationPerPeriod / sampleRateHz, meanS: null, ringingPct: facts.ringingPct }
}

/**
 * By how many percent conditioning has lengthened a measured duration between `p` and 1−p of the step (p a share).
 * A mean over a box: as for a first-order response, whose 10–90 % is untouched up to a width of 0.2146 τ. Other
 * filters: root-sum-square, which is exact for Gaussian shapes only. 100 when the filter alone explains the duration.
 */
export function durationBiasPct(own: Broadening, durationS: number, p: number): number {
  if (!(own.durationS > 0) || !(durationS > 0)) return 0
  if (own.meanS !== null) {
    const tau = firstOrderTauOf(durationS, own.meanS, p)
    const plain = tau * Math.log((1 - p) / p)
    return plain > 0 ? Math.min(100, 100 * (durationS / plain - 1)) : 100
  }
  // The filter's own width between p and 1−p, as for a Gaussian edge.
  const width = own.durationS * (Math.log((1 - p) / p) / Math.log(9))
  const rest = durationS * durationS - width * width
  return rest > 0 ? Math.min(100, 100 * (durationS / Math.sqrt(rest) - 1)) : 100
}
