import type { Ladder } from '../domain/capture.ts'
import { lightness, luminanceOf } from '../signal/lightness.ts'
import { evaluateCurve, invertCurve, monotoneCurve, type MonotoneCurve } from '../signal/monotone.ts'

/**
 * Grey-level code ↔ volts through a measured ladder. Between its levels a monotone cubic through the knots, drawn in
 * the power of the light that makes them nearly straight; beyond either end the power law fitted to the nearest
 * knots, never clamped (a level above 255 or below 0 is a number). Below zero light the curve is mirrored.
 */
export interface LadderCurve {
  readonly curve: MonotoneCurve
  /** +1 when more light gives more volts. */
  readonly polarity: 1 | -1
  /** Volts of no light. */
  readonly zeroV: number
  /** Light is drawn as light^(1/gamma). */
  readonly gamma: number
  /** Exponents of the drawn curve beyond its first and last knot. */
  readonly lowPower: number
  readonly highPower: number
  /** Volts that are no light for L*: the covered sensor, or level 0 where that was not measured. */
  readonly darkV: number
  /** Light of the highest level over `darkV`, V: the white of L*. */
  readonly whiteV: number
}

export type LadderCurveResult = { readonly curve: LadderCurve } | { readonly problem: string }

/** Share of the ladder's span by which a level may fall back without the ladder being refused. */
const FALLBACK = 0.002

const cache = new WeakMap<Ladder, LadderCurveResult>()

/** Curve of a ladder, or why there is none: fewer than two levels, no light, or not monotone. Kept per ladder object. */
export function ladderCurve(ladder: Ladder): LadderCurveResult {
  let result = cache.get(ladder)
  if (!result) {
    result = buildCurve(ladder)
    cache.set(ladder, result)
  }
  return result
}

function buildCurve(ladder: Ladder): LadderCurveResult {
  const byLevel = new Map<number, { sum: number; count: number }>()
  for (const step of ladder.steps) {
    if (!Number.isFinite(step.meanV)) continue
    const entry = byLevel.get(step.level) ?? { sum: 0, count: 0 }
    entry.sum += step.meanV
    entry.count++
    byLevel.set(step.level, entry)
  }
  const steps = [...byLevel].map(([level, { sum, count }]) => ({ level, volts: sum / count }))
  steps.sort((a, b) => a.level - b.level)
  if (steps.length < 2) return { problem: 'The ladder has fewer than two levels.' }
  const first = steps[0]!
  const last = steps[steps.length - 1]!
  const span = last.volts - first.volts
  if (!(Math.abs(span) > 0)) return { problem: 'The ladder shows no difference between its levels.' }
  const polarity = span > 0 ? 1 : -1
  // Level 0 is the black the codes count from; without it the covered sensor is.
  const zeroV = first.level === 0 ? first.volts : (ladder.darkV ?? 0)
  const light = steps.map((step) => polarity * (step.volts - zeroV))
  if (light[0]! < 0 || !(light[light.length - 1]! > 0)) {
    return { problem: 'The ladder lies below the covered-sensor voltage.' }
  }
  const darkV = ladder.darkV ?? zeroV
  const whiteV = polarity * (last.volts - darkV)
  if (!(whiteV > 0)) return { problem: 'The ladder lies below the covered-sensor voltage.' }
  const pooled = poolFallbacks(light, FALLBACK * Math.abs(span))
  if (!pooled) return { problem: 'The ladder is not monotone: a higher level gave less light.' }
  const levels: number[] = []
  const lights: number[] = []
  for (let k = 0; k < steps.length; k++) {
    const y = pooled[k]!
    if (lights.length > 0 && !(y > lights[lights.length - 1]!)) continue
    levels.push(steps[k]!.level)
    lights.push(y)
  }
  if (levels.length < 2) return { problem: 'The ladder is not monotone: a higher level gave less light.' }
  const gamma = Math.min(6, Math.max(0.3, fittedPower(levels, lights, 0.1)))
  const drawn = lights.map((y) => Math.pow(y, 1 / gamma))
  const curve = monotoneCurve(Float64Array.from(levels), Float64Array.from(drawn))
  return {
    curve: {
      curve,
      polarity,
      zeroV,
      gamma,
      highPower: endPower(levels.slice(-3), drawn.slice(-3)),
      lowPower: endPower(levels.slice(0, 3), drawn.slice(0, 3)),
      darkV,
      whiteV,
    },
  }
}

/** Adjacent values that fall back by no more than `tolerance` are replaced by their mean; null when one falls further. */
function poolFallbacks(values: readonly number[], tolerance: number): number[] | null {
  const groups: { mean: number; count: number }[] = []
  for (const value of values) {
    let group = { mean: value, count: 1 }
    let above = groups[groups.length - 1]
    if (above && above.mean - value > tolerance) return null
    while (above && above.mean > group.mean) {
      group = {
        mean: (above.mean * above.count + group.mean * group.count) / (above.count + group.count),
        count: above.count + group.count,
      }
      groups.pop()
      above = groups[groups.length - 1]
    }
    groups.push(group)
  }
  return groups.flatMap((group) => Array.from({ length: group.count }, () => group.mean))
}

/** Least-squares slope of log(value) over log(level) for levels from `share` of the highest on. */
function fittedPower(levels: readonly number[], values: readonly number[], share: number): number {
  const top = levels[levels.length - 1]!
  let n = 0
  let sx = 0
  let sy = 0
  let sxx = 0
  let sxy = 0
  for (let k = 0; k < levels.length; k++) {
    if (!(levels[k]! >= share * top) || levels[k]! <= 0 || !(values[k]! > 0)) continue
    const x = Math.log(levels[k]!)
    const y = Math.log(values[k]!)
    n++
    sx += x
    sy += y
    sxx += x * x
    sxy += x * y
  }
  const det = n * sxx - sx * sx
  return n >= 2 && det > 0 ? (n * sxy - sx * sy) / det : 2.2
}

function endPower(levels: readonly number[], values: readonly number[]): number {
  const power =
    levels.filter((level, k) => level > 0 && values[k]! > 0).length >= 2 ? fittedPower(levels, values, 0) : 1
  return Math.min(20, Math.max(0.05, power))
}

/** Grey-level code that gives these volts; fractional, below 0 and above 255 where the light is. */
export function codeOfVolts(ladder: LadderCurve, volts: number): number {
  const light = ladder.polarity * (volts - ladder.zeroV)
  return light < 0 ? -codeOfLight(ladder, -light) : codeOfLight(ladder, light)
}

function codeOfLight(ladder: LadderCurve, light: number): number {
  const { x, y } = ladder.curve
  const value = Math.pow(light, 1 / ladder.gamma)
  const last = x.length - 1
  if (value >= y[last]!) return x[last]! * Math.pow(value / y[last]!, 1 / ladder.highPower)
  if (value < y[0]!) return x[0]! * Math.pow(value / y[0]!, 1 / ladder.lowPower)
  return invertCurve(ladder.curve, value)
}

/** Volts of a grey-level code; inverse of codeOfVolts. */
export function voltsOfCode(ladder: LadderCurve, code: number): number {
  const light = code < 0 ? -lightOfCode(ladder, -code) : lightOfCode(ladder, code)
  return ladder.zeroV + ladder.polarity * light
}

function lightOfCode(ladder: LadderCurve, code: number): number {
  const { x, y } = ladder.curve
  const last = x.length - 1
  let value: number
  if (code > x[last]!) value = y[last]! * Math.pow(code / x[last]!, ladder.highPower)
  else if (code < x[0]!) value = y[0]! * Math.pow(code / x[0]!, ladder.lowPower)
  else value = evaluateCurve(ladder.curve, code)
  return Math.pow(value, ladder.gamma)
}

/** CIE 1976 L* of these volts; the ladder's highest level is 100. Below no light the straight line at black goes on. */
export function lightnessOfVolts({ polarity, darkV, whiteV }: LadderCurve, volts: number): number {
  return lightness((polarity * (volts - darkV)) / whiteV)
}

/** Volts of an L*; inverse of lightnessOfVolts. */
export function voltsOfLightness({ polarity, darkV, whiteV }: LadderCurve, lStar: number): number {
  return darkV + polarity * whiteV * luminanceOf(lStar)
}

/** Volts of a level of the ladder itself, or null when the level was not measured. */
export function ladderVolts(ladder: Ladder, level: number): number | null {
  return ladder.steps.find((step) => step.level === level)?.meanV ?? null
}
