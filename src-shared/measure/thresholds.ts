import type { Recipe } from '../domain/recipe.ts'
import { codeOfVolts, voltsOfCode, type LadderCurve } from './ladder-curve.ts'
import type { Levels } from './levels.ts'
import { shareMoves, type Moves } from './timing.ts'

/** Voltages a recipe's reference levels and bands come to for one step; null with the reason where they do not exist. */
export interface Thresholds {
  readonly midV: number
  /** Reference levels of the duration: near the start and near the end level. */
  readonly low: number | null
  readonly high: number | null
  readonly durationProblem: string | null
  /** Edge of the start band towards the end level, and the band [low, high]. */
  readonly startEdgeV: number | null
  readonly startBandV: readonly [number, number] | null
  /** Edge of the end band towards the start level, and the band [low, high]. */
  readonly endEdgeV: number | null
  readonly endBandV: readonly [number, number] | null
  readonly bandProblem: string | null
  /** What the levels' uncertainties do to them where codes place them; null where they are shares of the step. */
  readonly moves: Readonly<Record<'low' | 'high' | 'start' | 'end', Moves | null>> | null
}

type Placed = Omit<Thresholds, 'moves'>

type Band = Recipe['startBand']

/** Curve of the ladder, or the sentence that says why there is none. */
export type CodeScale = { readonly curve: LadderCurve } | { readonly problem: string }

/** Volts at `share` of the step in the recipe's ordinate; null when the ordinate needs a ladder that is missing. */
export function voltsOfShare(
  levels: Levels,
  ordinate: Recipe['ordinate'],
  codes: CodeScale,
  share: number,
): number | null {
  if (ordinate === 'luminance') return levels.beforeV + share * levels.stepV
  if (!('curve' in codes)) return null
  const c1 = codeOfVolts(codes.curve, levels.beforeV)
  const c2 = codeOfVolts(codes.curve, levels.afterV)
  return voltsOfCode(codes.curve, c1 + share * (c2 - c1))
}

/** Share of the step done at these volts, in the recipe's ordinate; null as above. */
export function shareOfVolts(
  levels: Levels,
  ordinate: Recipe['ordinate'],
  codes: CodeScale,
  volts: number,
): number | null {
  if (ordinate === 'luminance') return (volts - levels.beforeV) / levels.stepV
  if (!('curve' in codes)) return null
  const c1 = codeOfVolts(codes.curve, levels.beforeV)
  const c2 = codeOfVolts(codes.curve, levels.afterV)
  return (codeOfVolts(codes.curve, volts) - c1) / (c2 - c1)
}

/** Volts a band's half width away from the start (`share` 0) or end (1) level, `side` +1 past it and −1 short of it. */
function bandEdge(
  levels: Levels,
  ordinate: Recipe['ordinate'],
  codes: CodeScale,
  band: Band,
  share: 0 | 1,
  side: 1 | -1,
): number | null {
  if (band.kind === 'percent') return voltsOfShare(levels, ordinate, codes, share + (side * band.percent) / 100)
  if (!('curve' in codes)) return null
  const c1 = codeOfVolts(codes.curve, levels.beforeV)
  const c2 = codeOfVolts(codes.curve, levels.afterV)
  const direction = c2 >= c1 ? 1 : -1
  return voltsOfCode(codes.curve, (share === 0 ? c1 : c2) + side * direction * band.codes)
}

const ordered = (a: number | null, b: number | null): [number, number] | null =>
  a === null || b === null ? null : a < b ? [a, b] : [b, a]

/**
 * Thresholds of a step. `toLadder` is what the levels before and after it lack to the ladder's, V: 0 where that is not
 * known or where they come from it.
 */
export function findThresholds(
  recipe: Recipe,
  levels: Levels,
  codes: CodeScale,
  toLadder: readonly [before: number, after: number] = [0, 0],
): Thresholds {
  const placed = placeThresholds(recipe, levels, codes)
  const inCodes =
    recipe.ordinate === 'code' ||
    [recipe.duration, recipe.startBand, recipe.endBand].some(({ kind }) => kind === 'codes')
  return { ...placed, moves: inCodes && 'curve' in codes ? movesOf(recipe, levels, codes, placed, toLadder) : null }
}

/**
 * Near black a code is next to no light: there a level that is a little off in volts is several codes off, and so is
 * every threshold counted from it. The thresholds are placed once more with each level one standard uncertainty up and
 * down, and with the ladder's own level: where record and ladder disagree, either may be off, and anything between the
 * two is as likely (uniform).
 */
function movesOf(
  recipe: Recipe,
  levels: Levels,
  codes: CodeScale,
  placed: Placed,
  toLadder: readonly [before: number, after: number],
): NonNullable<Thresholds['moves']> {
  const shifted = (side: 'beforeV' | 'afterV', by: number): Placed => {
    if (by === 0) return placed
    const moved = { ...levels, [side]: levels[side] + by }
    return placeThresholds(recipe, { ...moved, stepV: moved.afterV - moved.beforeV }, codes)
  }
  const around = (side: 'beforeV' | 'afterV', u: number, off: number): readonly [Placed, Placed, Placed] => [
    shifted(side, u),
    shifted(side, -u),
    shifted(side, off),
  ]
  const sides = {
    before: around('beforeV', levels.uEdgeBeforeV, toLadder[0]),
    after: around('afterV', levels.uEdgeAfterV, toLadder[1]),
  }
  const of = (at: 'low' | 'high' | 'startEdgeV' | 'endEdgeV'): Moves | null => {
    const volts = placed[at]
    if (volts === null) return null
    const along = shareMoves(levels, volts)
    const moved = (side: 'before' | 'after'): number => {
      const [up, down, off] = sides[side].map((one) => one[at]) as [number | null, number | null, number | null]
      // Moved, the two bands may meet; what a share of the step would do is then the least that is known.
      if (up === null || down === null || off === null) return along[side]
      const half = (up - down) / 2
      return (half < 0 ? -1 : 1) * Math.hypot(half, (off - volts) / Math.sqrt(3))
    }
    return { before: moved('before'), after: moved('after') }
  }
  return { low: of('low'), high: of('high'), start: of('startEdgeV'), end: of('endEdgeV') }
}

function placeThresholds(recipe: Recipe, levels: Levels, codes: CodeScale): Placed {
  const { ordinate, duration, startBand, endBand } = recipe
  const { sign } = levels
  const codeProblem = 'problem' in codes ? codes.problem : null
  const apart = (low: number, high: number): boolean => sign * (high - low) > 0
  const mid = voltsOfShare(levels, ordinate, codes, 0.5) ?? levels.beforeV + 0.5 * levels.stepV
  const step = (): string => {
    if (!('curve' in codes)) return 'The step'
    const size = Math.abs(codeOfVolts(codes.curve, levels.afterV) - codeOfVolts(codes.curve, levels.beforeV))
    return `The step of ${size.toFixed(1)} codes`
  }
  let low: number | null
  let high: number | null
  let durationProblem: string | null = null
  if (duration.kind === 'percent') {
    low = voltsOfShare(levels, ordinate, codes, duration.percent / 100)
    high = voltsOfShare(levels, ordinate, codes, 1 - duration.percent / 100)
    if (low === null || high === null) durationProblem = `The code ordinate needs a ladder. ${codeProblem ?? ''}`.trim()
  } else {
    const band: Band = { kind: 'codes', codes: duration.codes }
    low = bandEdge(levels, ordinate, codes, band, 0, 1)
    high = bandEdge(levels, ordinate, codes, band, 1, -1)
    if (low === null || high === null) durationProblem = `A band in codes needs a ladder. ${codeProblem ?? ''}`.trim()
    else if (!apart(low, high)) {
      durationProblem = `${step()} is not larger than the two bands of ±${duration.codes} codes.`
      low = null
      high = null
    }
  }
  let startEdgeV = bandEdge(levels, ordinate, codes, startBand, 0, 1)
  let endEdgeV = bandEdge(levels, ordinate, codes, endBand, 1, -1)
  const startBandV = ordered(startEdgeV, bandEdge(levels, ordinate, codes, startBand, 0, -1))
  const endBandV = ordered(endEdgeV, bandEdge(levels, ordinate, codes, endBand, 1, 1))
  let bandProblem: string | null = null
  if (startEdgeV === null || endEdgeV === null) bandProblem = `The bands need a ladder. ${codeProblem ?? ''}`.trim()
  else if (!apart(startEdgeV, endEdgeV)) {
    bandProblem = `${step()} is not larger than its start and end bands.`
    startEdgeV = null
    endEdgeV = null
  }
  return { midV: mid, low, high, durationProblem, startEdgeV, startBandV, endEdgeV, endBandV, bandProblem }
}
