import type { MeasureId } from '../domain/measures.ts'
import type { UncertaintyTerm } from '../domain/result.ts'
import { addMean, addReading, beginWeights, sineSquare, weightsVariance } from './linear-result.ts'
import type { Levels } from './levels.ts'
import type { Residuals } from './residuals.ts'
import type { ResultBuilder } from './result-builder.ts'
import { AVERAGES, INDEX, NAMES, WORDS, type TermName } from './terms.ts'

const squares = new Float64Array(NAMES.length)
let before = 0
let after = 0
let single = 0
/** What the mean of the recipe's conditioning is known to move the result by, all readings together. */
let bent = 0
/** Weight of stretches at the level after the step: they are rounded as that level is. */
let settled = 0

/** A reading of the series: where, through how many samples, at which share of the step, and how steep it is there. */
export interface Reading {
  readonly x: number
  readonly width: number
  readonly share: number
  /** V per sample, signed. */
  readonly gradient: number
  /** Where within a long mean the step lies, samples: lines have another size before it than after it. */
  readonly step?: number | null
  /** What the mean of the recipe's conditioning adds to the value there, V. */
  readonly bentV?: number
}

/** Begins the budget of one result; the weights of everything it is linear in are then added one by one. */
export function beginBudget(): void {
  beginWeights()
  squares.fill(0)
  before = 0
  after = 0
  single = 0
  settled = 0
  bent = 0
}

/** The result moves by `onBefore` and `onAfter` times a change of the two state levels. */
export function addLevels(levels: Levels, onBefore: number, onAfter: number): void {
  before += onBefore
  after += onAfter
  if (!levels.fixedBefore) addMean(levels.usedBefore[0], levels.usedBefore[1], onBefore, 0)
  if (!levels.fixedAfter) addMean(levels.usedAfter[0], levels.usedAfter[1], onAfter, 1)
}

/** The result moves by `weight` times a change of the series at one reading. */
export function addRead(reading: Reading, weight: number, residuals: Residuals): void {
  const { x, width, share, step } = reading
  if (step === undefined || step === null) addReading(x, width, weight, share)
  else {
    const first = x + 0.5 - width / 2
    const end = first + width
    const split = Math.min(end, Math.max(first, step + 0.5))
    if (split > first) addMean(first, split, (weight * (split - first)) / width, 0)
    if (end > split) addMean(split, end, (weight * (end - split)) / width, 1)
  }
  bent += weight * (reading.bentV ?? 0)
  // Rounding is spread over by as many steps as the signal passes through the mean.
  const { roundingV, lsbV } = residuals
  if (roundingV > 0) {
    const passed = lsbV > 0 ? (Math.abs(reading.gradient) * (reading.width - 1)) / lsbV : 0
    single += (weight * roundingV) ** 2 / Math.max(1, passed)
  }
}

/** The result moves by `weight` times a change of the mean over a stretch at `share` of the step. */
export function addStretch(first: number, end: number, weight: number, share: number): void {
  if (!(end > first)) return
  addMean(first, end, weight, share)
  if (share === 1) settled += weight
}

/** The mean of the recipe's conditioning moves the result by this much besides, in the unit of the weights. */
export function addBent(shift: number): void {
  bent += shift
}

/** A part that is known by itself, in the unit of the weights. */
export function addTerm(name: TermName, u: number): void {
  if (Number.isFinite(u)) squares[INDEX[name]]! += u * u
}

/** Works the weights out: noise, lines that are left, doubts of the levels. */
export function closeBudget(levels: Levels, residuals: Residuals): void {
  const { lines, before: first, after: last } = residuals
  squares[INDEX.noise]! += weightsVariance(residuals.noise) * levels.efficiency
  for (const line of lines) squares[INDEX[line.kind]]! += sineSquare(line.frequency, line.before, line.after)
  squares[INDEX.drift]! += (before * first.driftV) ** 2 + (after * last.driftV) ** 2
  squares[INDEX.tail]! += (before * first.tailV) ** 2 + (after * last.tailV) ** 2
  squares[INDEX.rounding]! += (before * first.roundingV) ** 2 + ((after + settled) * last.roundingV) ** 2 + single
  // The result is that of the conditioned trace, not corrected: the known shift counts in full, as mean square error.
  squares[INDEX.conditioning]! += bent * bent
  squares[INDEX.levels]! += (before * first.methodV) ** 2 + (after * last.methodV) ** 2
}

/** Standard uncertainty of the budget as it stands. */
export function budgetU(): number {
  let sum = 0
  for (let i = 0; i < squares.length; i++) sum += squares[i]!
  return Math.sqrt(sum)
}

/** States a measure with the budget times `factor`. */
export function stateMeasure(out: ResultBuilder, id: MeasureId, value: number, factor: number): void {
  let sum = 0
  let common = 0
  for (let i = 0; i < squares.length; i++) {
    sum += squares[i]!
    if (!AVERAGES[i]) common += squares[i]!
  }
  const scale = Math.abs(factor)
  out.set(id, value, scale * Math.sqrt(sum), scale * Math.sqrt(common))
  out.noteLeft(id, value, scale, squares)
  if (out.terms) out.terms[id] = termsNow(scale)
}

function termsNow(scale: number): UncertaintyTerm[] {
  const terms: UncertaintyTerm[] = []
  for (let i = 0; i < NAMES.length; i++) {
    if (squares[i]! > 0) terms.push({ name: WORDS[i]!, u: scale * Math.sqrt(squares[i]!), averages: AVERAGES[i]! })
  }
  return terms.toSorted((a, b) => b.u - a.u)
}
