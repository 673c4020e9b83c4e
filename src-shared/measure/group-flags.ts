import type { MeasureId } from '../domain/measures.ts'
import type { Flag, FlagId, Landmarks, Result } from '../domain/result.ts'
import { grubbsTest, medianDeviation } from '../signal/outliers.ts'
import { medianInPlace, MAD_TO_SIGMA } from '../signal/robust.ts'
import { reachOf } from './flags/budget.ts'

/** What a comparison within one sweep needs to know of each capture. */
export interface GroupRow {
  readonly info: { readonly id: number; readonly from: number; readonly to: number }
  /** Values of the capture's result; null while it has none. */
  readonly values: Readonly<Record<MeasureId, number | null>> | null
  readonly uncertainties?: Result['uncertainties']
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
/**
 * Degrees of freedom of a median of differences over those of a standard deviation (Shamos' estimator, asymptotic
 * efficiency 0.863; Rousseeuw and Croux, J. Am. Stat. Assoc. 88 (1993) 1273, from memory).
 */
const EFFICIENCY = 0.86
/** Captures of a cell that one is paired with, less one: all of any sweep, but not of thousands imported as one. */
const MOST_PAIRED = 100
/** Variance of a median of n over that of one value, times n. */
const MEDIAN_VARIANCE = Math.PI / 2
/** An outlier stands at least this part of its distance from the median apart from every other repeat. */
const ALONE = 0.5
/** Change of ripple frequency that stands out, %. */
export const RIPPLE_LIMIT_PCT = 1
/** Harmonics of one waveform that are taken for it. */
const HARMONICS = 4
/** Part of a refresh period by which an edge may be late. */
export const LATE_LIMIT = 0.65

/** Flags that only a comparison shows; captures without the value compared are left out. */
export function groupFlags(rows: readonly GroupRow[]): GroupFlag[] {
  const cells = cellsOf(rows)
  return [...repeatFlags(cells), ...lateFlags(cells), ...rippleFlags(rows)]
}

function cellsOf(rows: readonly GroupRow[]): readonly GroupRow[][] {
  const cells = new Map<string, GroupRow[]>()
  for (const row of rows) {
    const key = `${row.info.from} ${row.info.to}`
    const cell = cells.get(key)
    if (cell) cell.push(row)
    else cells.set(key, [row])
  }
  return [...cells.values()]
}

interface Deviation {
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

const counts = ({ row }: { readonly row: GroupRow }): boolean => row.counts !== false

/** Every value beside the median of the others of its cell; cells with fewer than four values that count are left out. */
function deviationsOf(
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
    return value === null || value === undefined ? null : { value, u: row.uncertainties?.[id] ?? 0 }
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

/** Entries cell by cell, cells in the order of their middle value. */
function cellsBySize(all: readonly Deviation[]): Deviation[][] {
  const cells = new Map<string, Deviation[]>()
  for (const one of all) {
    const key = `${one.row.info.from} ${one.row.info.to}`
    const cell = cells.get(key)
    if (cell) cell.push(one)
    else cells.set(key, [one])
  }
  return [...cells.values()]
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
function repeatFlags(cells: readonly GroupRow[][]): GroupFlag[] {
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

/**
 * `edge-out-of-frame` where the record starts with a bus trigger: from the stimulus' answer to the light edge every
 * capture of a transition takes the same time. One that takes 0.65 refresh periods longer (and longer than the spread of
 * that time in the sweep allows) was shown in a later frame than the stimulus says.
 */
function lateFlags(cells: readonly GroupRow[][]): GroupFlag[] {
  const [low, mid] = ([0, 1] as const).map((which) => latenessOf(cells, which)) as [Lateness, Lateness]
  const reach = reachOf(FALSE_ALARMS / Math.max(1, low.late.size))
  return [...low.late].flatMap(([row, lowS]) => {
    const frameS = row.frameS ?? 0
    const midS = mid.late.get(row) ?? 0
    // A step that only takes longer has its low crossing where its repeats have theirs.
    const lateS = Math.abs(lowS) < Math.abs(midS) ? lowS : midS
    const limit = Math.max(LATE_LIMIT * frameS, reach * Math.max(low.spread, mid.spread))
    if (!(Math.abs(lateS) > limit) || lowS * midS < 0) return []
    const evidence =
      `The light edge comes ${(Math.abs(lateS) * 1e3).toPrecision(3)} ms ${lateS > 0 ? 'later' : 'earlier'} after the ` +
      `stimulus’ answer than in the other captures of this transition, ${Math.abs(lateS / frameS).toFixed(1)} refresh ` +
      'periods: it was not shown in the frame that was reported.'
    return [
      {
        captureId: row.info.id,
        flag: { id: 'edge-out-of-frame', evidence, value: lateS, limit, unit: 's', span: null },
      },
    ]
  })
}

interface Lateness {
  /** Time from the stimulus' answer to a crossing, less its median among the repeats, s. */
  readonly late: ReadonlyMap<GroupRow, number>
  /** Its robust standard deviation in the sweep, s. */
  readonly spread: number
}

function latenessOf(cells: readonly GroupRow[][], which: 0 | 1): Lateness {
  const all = deviationsOf(cells, ({ edgeS, sinceTriggerS, frameS }) =>
    edgeS && sinceTriggerS !== null && sinceTriggerS !== undefined && frameS
      ? { value: edgeS[which] - sinceTriggerS, u: 0 }
      : null,
  )
  return {
    late: new Map(all.map(({ row, value, cellMedian }) => [row, value - cellMedian])),
    spread: medianDeviation(all.filter(counts).map(({ value, cellMedian }) => value - cellMedian))?.sigma ?? 0,
  }
}

/**
 * `ripple-differs`: a ripple frequency more than 1 % (and more than its uncertainty allows) from the sweep's median. The
 * strongest component of one and the same waveform may be another of its harmonics from capture to capture: up to
 * four times (or a quarter of) the median is taken for the same ripple.
 */
function rippleFlags(rows: readonly GroupRow[]): GroupFlag[] {
  const ripples = rows.flatMap((row) => {
    const value = row.values?.ripple_frequency_hz
    return value === null || value === undefined ? [] : [{ row, value, u: row.uncertainties?.ripple_frequency_hz ?? 0 }]
  })
  const counted = ripples.filter(counts)
  if (counted.length < FEWEST) return []
  const median = medianOf(counted.map((entry) => entry.value))
  const reach = reachOf(FALSE_ALARMS / ripples.length)
  return ripples.flatMap(({ row, value, u }) => {
    const limit = Math.max((RIPPLE_LIMIT_PCT / 100) * median, reach * u)
    const order = Math.max(1, Math.min(HARMONICS, Math.round(Math.max(value / median, median / value))))
    const asFirst = value > median ? value / order : value * order
    if (!(Math.abs(asFirst - median) > limit)) return []
    const evidence = `Its ripple of ${value.toPrecision(5)} Hz differs from the sweep’s ${median.toPrecision(5)} Hz.`
    return [
      {
        captureId: row.info.id,
        flag: { id: 'ripple-differs', evidence, value, limit: median, unit: 'Hz', span: null },
      },
    ]
  })
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

const isPulsed = ({ values }: GroupRow): boolean => typeof values?.first_pulse_crosstalk_pct === 'number'

function isSpoilt({ flags }: GroupRow): boolean {
  return flags !== undefined && flags.some((id) => SPOILT.includes(id))
}

function medianOf(values: readonly number[]): number {
  return medianInPlace(Float64Array.from(values))
}
