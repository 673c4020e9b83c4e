import type { Recipe } from '../domain/recipe.ts'
import type { LadderCurve } from './ladder-curve.ts'
import type { Levels } from './levels.ts'
import { ladderScale, ordinateOf, type CodeScale, type OrdinateScale } from './ordinate.ts'
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
  /** What the levels' uncertainties do to them where codes or L* place them; null where they are shares of the step. */
  readonly moves: Readonly<Record<'low' | 'high' | 'start' | 'end', Moves | null>> | null
}

type Placed = Omit<Thresholds, 'moves'>

type Band = Recipe['startBand']

/** Volts at `share` of the step in the recipe's ordinate; null when the ordinate needs a ladder that is missing. */
function voltsOfShare(levels: Levels, ordinate: Recipe['ordinate'], codes: CodeScale, share: number): number | null {
  const found = ordinateOf(ordinate, codes)
  if ('problem' in found) return null
  const { scale } = found
  if (scale === null) return levels.beforeV + share * levels.stepV
  const first = scale.of(levels.beforeV)
  return scale.volts(first + share * (scale.of(levels.afterV) - first))
}

/** Share of the step done at these volts, in the recipe's ordinate; null as above. */
export function shareOfVolts(
  levels: Levels,
  ordinate: Recipe['ordinate'],
  codes: CodeScale,
  volts: number,
): number | null {
  const found = ordinateOf(ordinate, codes)
  if ('problem' in found) return null
  const { scale } = found
  if (scale === null) return (volts - levels.beforeV) / levels.stepV
  const first = scale.of(levels.beforeV)
  return (scale.of(volts) - first) / (scale.of(levels.afterV) - first)
}

type LadderBand = Exclude<Band, { kind: 'percent' }>

const widthOf = (band: LadderBand): number => (band.kind === 'codes' ? band.codes : band.lightness)
const scaleOf = (band: LadderBand, curve: LadderCurve): OrdinateScale =>
  ladderScale(band.kind === 'codes' ? 'code' : 'lightness', curve)

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
  const scale = scaleOf(band, codes.curve)
  const first = scale.of(levels.beforeV)
  const last = scale.of(levels.afterV)
  const direction = last >= first ? 1 : -1
  return scale.volts((share === 0 ? first : last) + side * direction * widthOf(band))
}

const ordered = (a: number | null, b: number | null): [number, number] | null =>
  a === null || b === null ? null : a < b ? [a, b] : [b, a]

/**
 * Thresholds of a step. `toLadder` is what the levels before and after it lack to the ladder's, V: 0 where that is not
 * known or where they come from it; `doubtV` what they may be off by for all else.
 */
export function findThresholds(
  recipe: Recipe,
  levels: Levels,
  codes: CodeScale,
  toLadder: readonly [before: number, after: number] = [0, 0],
  doubtV: readonly [before: number, after: number] = [levels.uBeforeV, levels.uAfterV],
): Thresholds {
  const placed = placeThresholds(recipe, levels, codes)
  const throughLadder =
    recipe.ordinate !== 'luminance' ||
    [recipe.duration, recipe.startBand, recipe.endBand].some(({ kind }) => kind !== 'percent')
  return {
    ...placed,
    moves: throughLadder && 'curve' in codes ? movesOf(recipe, levels, codes, placed, toLadder, doubtV) : null,
  }
}

/**
 * Near black a code or an L* is next to no light: there a level that is a little off in volts is several of them off, and so is
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
  doubtV: readonly [before: number, after: number],
): NonNullable<Thresholds['moves']> {
  const shifted = (side: 'beforeV' | 'afterV', by: number): Placed => {
    if (by === 0) return placed
    const moved = { ...levels, [side]: levels[side] + by }
    return placeThresholds(recipe, { ...moved, stepV: moved.afterV - moved.beforeV }, codes)
  }
  // A level that is as good as known is moved a little all the same: it is the ratio that counts.
  const least = 1e-4 * Math.abs(levels.stepV)
  const [uBefore, uAfter] = [Math.max(doubtV[0], least), Math.max(doubtV[1], least)]
  const before = [shifted('beforeV', uBefore), shifted('beforeV', -uBefore), shifted('beforeV', toLadder[0])] as const
  const after = [shifted('afterV', uAfter), shifted('afterV', -uAfter), shifted('afterV', toLadder[1])] as const
  const of = (at: 'low' | 'high' | 'startEdgeV' | 'endEdgeV'): Moves | null => {
    const volts = placed[at]
    if (volts === null) return null
    const along = shareMoves(levels, volts)
    const ratio = ([up, down]: typeof before, u: number, otherwise: number): number =>
      up[at] === null || down[at] === null ? otherwise : (up[at] - down[at]) / (2 * u)
    const off = ([, , ladder]: typeof before): number =>
      ladder[at] === null ? 0 : Math.abs(ladder[at] - volts) / Math.sqrt(3)
    return {
      before: ratio(before, uBefore, along.before),
      after: ratio(after, uAfter, along.after),
      ladderV: Math.hypot(off(before), off(after)),
    }
  }
  return { low: of('low'), high: of('high'), start: of('startEdgeV'), end: of('endEdgeV') }
}

function placeThresholds(recipe: Recipe, levels: Levels, codes: CodeScale): Placed {
  const { ordinate, duration, startBand, endBand } = recipe
  const { sign } = levels
  const ladderProblem = 'problem' in codes ? codes.problem : ''
  const needsLadder = (what: string): string => `${what} a ladder. ${ladderProblem}`.trim()
  const apart = (low: number, high: number): boolean => sign * (high - low) > 0
  const mid = voltsOfShare(levels, ordinate, codes, 0.5) ?? levels.beforeV + 0.5 * levels.stepV
  const step = (scale: OrdinateScale | null): string => {
    if (scale === null) return 'The step'
    const size = Math.abs(scale.of(levels.afterV) - scale.of(levels.beforeV))
    return `The step of ${size.toFixed(1)} ${scale.unit}`
  }
  let low: number | null
  let high: number | null
  let durationProblem: string | null = null
  if (duration.kind === 'percent') {
    low = voltsOfShare(levels, ordinate, codes, duration.percent / 100)
    high = voltsOfShare(levels, ordinate, codes, 1 - duration.percent / 100)
    const found = ordinateOf(ordinate, codes)
    if ('problem' in found) durationProblem = found.problem
  } else {
    low = bandEdge(levels, ordinate, codes, duration, 0, 1)
    high = bandEdge(levels, ordinate, codes, duration, 1, -1)
    const unit = duration.kind === 'codes' ? 'codes' : 'L*'
    if (low === null || high === null || !('curve' in codes)) durationProblem = needsLadder(`A band in ${unit} needs`)
    else if (!apart(low, high)) {
      durationProblem = `${step(scaleOf(duration, codes.curve))} is not larger than the two bands of ±${widthOf(duration)} ${unit}.`
      low = null
      high = null
    }
  }
  let startEdgeV = bandEdge(levels, ordinate, codes, startBand, 0, 1)
  let endEdgeV = bandEdge(levels, ordinate, codes, endBand, 1, -1)
  const startBandV = ordered(startEdgeV, bandEdge(levels, ordinate, codes, startBand, 0, -1))
  const endBandV = ordered(endEdgeV, bandEdge(levels, ordinate, codes, endBand, 1, 1))
  let bandProblem: string | null = null
  if (startEdgeV === null || endEdgeV === null) bandProblem = needsLadder('The bands need')
  else if (!apart(startEdgeV, endEdgeV)) {
    const band = [startBand, endBand].find(({ kind }) => kind !== 'percent')
    const scale = band && band.kind !== 'percent' && 'curve' in codes ? scaleOf(band, codes.curve) : null
    bandProblem = `${step(scale)} is not larger than its start and end bands.`
    startEdgeV = null
    endEdgeV = null
  }
  return { midV: mid, low, high, durationProblem, startEdgeV, startBandV, endEdgeV, endBandV, bandProblem }
}
