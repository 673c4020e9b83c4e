/** Captures that differ from the repeats of their transition. */
import { grouped, pairKey } from '../../domain/level-pair.ts'
import type { MeasureId } from '../../domain/measures.ts'
import type { Flag } from '../../domain/result.ts'
import { grubbsTest } from '../../signal/outliers.ts'
import { MAD_TO_SIGMA } from '../../signal/robust.ts'
import { reachOf } from '../flags/budget.ts'
import {
  counts,
  deviationsOf,
  FALSE_ALARMS,
  FEWEST,
  isPulsed,
  isSpoilt,
  MEDIAN_VARIANCE,
  medianOf,
  type Deviation,
  type GroupFlag,
  type GroupRow,
} from './rows.ts'

/**
 * Degrees of freedom of a median of differences over those of a standard deviation (Shamos' estimator, asymptotic
 * efficiency 0.863; Rousseeuw and Croux, J. Am. Stat. Assoc. 88 (1993) 1273, from memory).
 */
const EFFICIENCY = 0.86
/** Captures of a cell that one is paired with, less one: all of any sweep, but not of thousands imported as one. */
const MOST_PAIRED = 100
/** An outlier stands at least this part of its distance from the median apart from every other repeat. */
const ALONE = 0.5

interface Compared {
  readonly id: MeasureId
  readonly name: string
  readonly unit: string
  /** Whether the spread is a share of the value (times) or the same for all (shares). */
  readonly relative: boolean
  readonly scale: number
  readonly shown: string
}

/** What repeats are compared in: light in pulses shows a change of speed in its first pulse, not between pulses. */
const COMPARED: readonly Compared[] = [
  { id: 'transition_duration_s', name: 'duration', unit: 's', relative: true, scale: 1e3, shown: 'ms' },
  { id: 'first_pulse_crosstalk_pct', name: 'first-pulse crosstalk', unit: '%', relative: false, scale: 1, shown: '%' },
]
/** Whatever changes the speed of a step changes the area it leaves to its target, which no single crossing decides. */
const CONFIRMING: Compared = {
  id: 'integrated_error_s',
  name: 'integrated error',
  unit: 's',
  relative: true,
  scale: 1e3,
  shown: 'ms',
}

/** Chance that the confirming value differs as much by itself, or part of the change in proportion. */
const CONFIRM_CHANCE = 0.01
const CONFIRM_SHARE = 0.25

interface Distance extends Deviation {
  readonly distance: number
  /** Standard deviation of repeats, and with the value's own uncertainty. */
  readonly spread: number
  readonly sigma: number
  /** Degrees of freedom they are known with. */
  readonly dof: number
}

/**
 * Distances from the median of each cell's others with their standard deviation: that of repeats in cells alike and the
 * value's own uncertainty together, both also of the median, but no less than that of the others themselves.
 */
function distancesOf(cells: readonly GroupRow[][], { id, relative }: Compared): Distance[] {
  const all = deviationsOf(cells, (row) => {
    const value = row.values?.[id]
    return value === null || value === undefined ? null : { value, u: ownOf(row, id) }
  })
  const unit = (one: Deviation): number => (relative ? Math.abs(one.median) : 1)
  const byCell = cellsBySize(all)
  const pairs = byCell.map((cell) => pairsOf(cell, unit))
  // Repeats that agree better than their uncertainties share some of what these hold.
  const inU = byCell.map((cell) => pairsOf(cell, (a, b) => Math.hypot(a.u, b.u) / Math.SQRT2))
  return byCell.flatMap((cell, i) => {
    const pooled = pooledSpread(pairs, i) ?? 0
    const random = Math.min(1, pooledSpread(inU, i) ?? 1)
    const dof = Math.max(
      1,
      EFFICIENCY * nearCells(byCell, i).reduce((sum, near) => sum + near.filter(counts).length - 1, 0),
    )
    return cell.map((one) => {
      // Between pulses a crossing seldom moves, but then by all that its uncertainty says.
      const share = isPulsed(one.row) ? 1 : random
      const repeats = pooled * unit(one) * Math.sqrt(1 + MEDIAN_VARIANCE / one.company)
      return {
        ...one,
        dof,
        distance: Math.abs(one.value - one.median),
        spread: Math.max(one.cellS, repeats),
        sigma: Math.max(one.cellS, Math.hypot(repeats, share * one.u, share * one.uMedian)),
      }
    })
  })
}

/** What a capture states of a value, without what its repeats share: that makes none of them differ. */
function ownOf({ uncertainties, common }: GroupRow, id: MeasureId): number {
  const [u, shared] = [uncertainties?.[id] ?? 0, common?.[id] ?? 0]
  return Math.sqrt(Math.max(0, u * u - shared * shared))
}

/** Entries cell by cell, cells in the order of their middle value. */
function cellsBySize(all: readonly Deviation[]): Deviation[][] {
  return [...grouped(all, ({ row }) => pairKey(row.info)).values()]
    .map((cell) => ({ cell, size: medianOf(cell.map(({ value }) => value)) }))
    .sort((a, b) => a.size - b.size)
    .map(({ cell }) => cell)
}

/** Differences between any two entries of a cell that count, in units of `unit`. */
function pairsOf(cell: readonly Deviation[], unit: (a: Deviation, b: Deviation) => number): number[] {
  const all = cell.filter(counts)
  const sound = all.filter(({ row }) => !isSpoilt(row))
  const counted = sound.length >= FEWEST - 1 ? sound : all
  return counted.flatMap((a, i) =>
    counted.slice(i + 1, i + MOST_PAIRED).flatMap((b) => {
      const per = unit(a, b)
      return per > 0 ? [Math.abs(a.value - b.value) / per] : []
    }),
  )
}

/** Cells alike in size on either side of one whose spreads are pooled with its own. */
const ALIKE = 5

/** Entries of cell `i` and those next to it. */
function nearCells<T>(cells: readonly T[], i: number): readonly T[] {
  const first = Math.max(0, Math.min(i - ALIKE, cells.length - 2 * ALIKE - 1))
  return cells.slice(first, first + 2 * ALIKE + 1)
}

/**
 * Robust standard deviation of repeats by the differences in cell `i` and those next to it in size: through a mean over
 * a ripple period short transitions spread by more of themselves than long ones. Null without any difference.
 * (Deviations from the median of five are a quarter too small: one of them is always zero.)
 */
function pooledSpread(pairs: readonly (readonly number[])[], i: number): number | null {
  const near = nearCells(pairs, i).flat()
  return near.length === 0 ? null : (MAD_TO_SIGMA * medianOf(near)) / Math.SQRT2
}

/**
 * `differs-from-repeats`: a duration, integrated error or first-pulse crosstalk further from the median of the same transition's
 * captures than Student's t allows by the spread of cells alike, or an outlier by Grubbs' test in its own cell; and more
 * than half as far from every other one of them (two that agree are no outliers, but a transition that ends in one of two
 * ways). Where the integrated error is known and varies, it must differ too, or change with the duration: a crossing in a
 * flat stretch moves far by nothing.
 */
export function repeatFlags(cells: readonly GroupRow[][]): GroupFlag[] {
  const confirming = new Map(distancesOf(cells, CONFIRMING).map((one) => [one.row, one]))
  const flags = new Map<GroupRow, GroupFlag>()
  for (const compared of [...COMPARED, CONFIRMING]) {
    const { name, unit, scale, shown } = compared
    const distances = distancesOf(cells, compared)
    const chance = FALSE_ALARMS / 2 / (COMPARED.length + 1) / Math.max(1, distances.length)
    const alone = new Set(outliersOf(cells, compared))
    for (const { row, value, median, company, nearest, distance, sigma, dof, u, uMedian } of distances) {
      const byOthers = reachOf(chance, dof) * sigma
      const limit = alone.has(row) ? Math.min(byOthers, reachOf(chance) * Math.hypot(u, uMedian)) : byOthers
      if (!(distance > limit) || distance < 1e-9 * Math.abs(median) || nearest < ALONE * distance) continue
      const area = compared === CONFIRMING ? undefined : confirming.get(row)
      if (area && area.spread > 0 && !confirms(area, (value - median) / median)) continue
      const show = (x: number, digits: number): string => `${(x * scale).toPrecision(digits)} ${shown}`
      const evidence =
        `Its ${name} of ${show(value, 4)} differs from the median ${show(median, 4)} ` +
        `of ${company} other captures by more than ${show(limit, 2)}.`
      const flag: Flag = { id: 'differs-from-repeats', evidence, value: distance, limit, unit, span: null }
      if (!flags.has(row)) flags.set(row, { captureId: row.info.id, flag })
    }
  }
  return [...flags.values()]
}

/** Outliers of their own cells by Grubbs' test, which needs no other cell to spread alike. */
function outliersOf(cells: readonly GroupRow[][], { id }: Compared): GroupRow[] {
  return cells.flatMap((cell) => {
    const known = cell.filter((row) => row.counts !== false && typeof row.values?.[id] === 'number')
    const test = grubbsTest(
      known.map((row) => row.values?.[id] ?? 0),
      FALSE_ALARMS / 2 / (COMPARED.length + 1) / cells.length,
    )
    return test?.outlier === true ? [known[test.index]!] : []
  })
}

/** Whether an integrated error differs as well, or at least goes along with a duration changed by a share. */
function confirms({ distance, spread, dof, value, median }: Distance, share: number): boolean {
  return distance > reachOf(CONFIRM_CHANCE, dof) * spread || (value / median - 1) / share > CONFIRM_SHARE
}
