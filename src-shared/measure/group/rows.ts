/** Captures of one sweep as a comparison sees them, and each beside the others of its transition. */
import { grouped, pairKey } from '../../domain/level-pair.ts'
import type { MeasureId } from '../../domain/measures.ts'
import type { Flag, FlagId, Landmarks, Result } from '../../domain/result.ts'
import { medianInPlace, MAD_TO_SIGMA } from '../../signal/robust.ts'

/** What a comparison within one sweep needs to know of each capture. */
export interface GroupRow {
  readonly info: { readonly id: number; readonly from: number; readonly to: number }
  /** Values of the capture's result; null while it has none. */
  readonly values: Readonly<Record<MeasureId, number | null>> | null
  readonly uncertainties?: Result['uncertainties']
  /** The part of them that all repeats share. */
  readonly common?: Result['common']
  /** False for a capture that others are not compared with (excluded, sent back, replaced); it is still judged itself. */
  readonly counts?: boolean
  /** Doubts about the capture alone: one that is spoilt is no company for an outlier. */
  readonly flags?: readonly FlagId[]
  /** Low reference and 50 % crossing from the first sample, s; null where there is none. */
  readonly edgeS?: readonly [low: number, mid: number] | null
  /** Time from the bus trigger to the answer of the stimulus, s; null or absent where the light edge was the trigger. */
  readonly sinceTriggerS?: number | null
  /** Refresh period, s; null where it is not known. */
  readonly frameS?: number | null
}

/** The crossings that tell when an edge came; the middle alone where the low reference is not crossed. */
export function edgeOf({
  crossLowS,
  crossMidS,
}: Pick<Landmarks, 'crossLowS' | 'crossMidS'>): readonly [number, number] | null {
  return crossMidS === null ? null : [crossLowS ?? crossMidS, crossMidS]
}

export interface GroupFlag {
  readonly captureId: number
  readonly flag: Flag
}

/** Fewest repeats of a transition (or captures of a sweep) that are compared with one another. */
export const FEWEST = 4
/**
 * Chance that a comparison of one sweep (or of whatever is compared at once) doubts any of its captures where repeats
 * spread normally: one in fifty sweeps. Half of it goes to spreads pooled over cells alike (Student's t), half to Grubbs'
 * test within each cell; either is divided by the number of values or cells compared.
 */
export const FALSE_ALARMS = 0.02
/** Variance of a median of n over that of one value, times n. */
export const MEDIAN_VARIANCE = Math.PI / 2

export function cellsOf(rows: readonly GroupRow[]): readonly GroupRow[][] {
  return [...grouped(rows, ({ info }) => pairKey(info)).values()]
}

export interface Deviation {
  readonly row: GroupRow
  readonly value: number
  readonly u: number
  /** Median of the cell. Of five with two that are wrong it is right, of the four others it need not be. */
  readonly cellMedian: number
  /** Median of the other captures of the cell, how many they are, and its standard uncertainty by theirs. */
  readonly median: number
  readonly company: number
  readonly uMedian: number
  /** Robust standard deviation of those others, and the distance to the nearest other value. */
  readonly cellS: number
  readonly nearest: number
}

export const counts = ({ row }: { readonly row: GroupRow }): boolean => row.counts !== false

/** Every value beside the median of the others of its cell; cells with fewer than four values that count are left out. */
export function deviationsOf(
  cells: readonly GroupRow[][],
  valueOf: (row: GroupRow) => { value: number; u: number } | null,
): Deviation[] {
  return cells.flatMap((cell) => {
    const known = cell.flatMap((row) => {
      const found = valueOf(row)
      return found === null ? [] : [{ row, ...found }]
    })
    const counted = known.filter(counts)
    if (counted.length < FEWEST) return []
    // What is spoilt is compared with the others, and they not with it, as long as three are left.
    const sound = counted.filter(({ row }) => !isSpoilt(row))
    const company = sound.length >= FEWEST - 1 ? sound : counted
    const cellMedian = medianOf(company.map((entry) => entry.value))
    return known.map((entry) => {
      // An outlier must not widen the spread it is held against.
      const others = company.filter((other) => other !== entry)
      const values = others.map((other) => other.value)
      const median = medianOf(values)
      return {
        ...entry,
        cellMedian,
        median,
        company: others.length,
        cellS: spreadOf(values, median),
        uMedian: Math.sqrt(MEDIAN_VARIANCE / others.length) * medianOf(others.map((other) => other.u)),
        nearest: Math.min(
          ...counted.map((other) =>
            other === entry || isSpoilt(other.row) ? Infinity : Math.abs(other.value - entry.value),
          ),
        ),
      }
    })
  })
}

/** What the median absolute deviation of 2, 3, … values is too small by. (Croux and Rousseeuw 1992, from memory.) */
const MAD_OF_FEW = [1.196, 1.495, 1.363, 1.206, 1.2, 1.14, 1.129, 1.107] as const

/** Robust standard deviation of a few values about their median. */
function spreadOf(values: readonly number[], median: number): number {
  const n = values.length
  const few = n < 2 ? 0 : (MAD_OF_FEW[n - 2] ?? n / (n - 0.8))
  return MAD_TO_SIGMA * few * medianOf(values.map((value) => Math.abs(value - median)))
}

/** Flags of captures whose numbers are not to be trusted. */
const SPOILT: readonly FlagId[] = [
  'clipped',
  'missing-samples',
  'plateau-drift',
  'plateau-not-reached',
  'double-step',
  'ladder-disagrees',
  'saturation',
  'hum',
]

export const isPulsed = ({ values }: GroupRow): boolean => typeof values?.first_pulse_crosstalk_pct === 'number'

export function isSpoilt({ flags }: GroupRow): boolean {
  return flags !== undefined && flags.some((id) => SPOILT.includes(id))
}

export function medianOf(values: readonly number[]): number {
  return medianInPlace(Float64Array.from(values))
}
