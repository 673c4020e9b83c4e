/** How often the truth lies within what is stated: 2u of a capture and U95 of a cell of five, by class. */
import { cellStatistics } from '#shared/findings/matrix.ts'
import type { MeasureId } from '#shared/domain/measures.ts'
import { MEASURE_IDS } from '#shared/domain/measures.ts'
import type { MatrixEntry } from '#shared/domain/views.ts'
import type { Kind, Measured } from './records.ts'
import { floorOf } from './score.ts'

export interface MeasureCoverage {
  readonly measure: MeasureId
  /** Captures with a value, those without, and those whose truth lies within 2u. */
  values: number
  missing: number
  inside: number
  /** Cells with a U95, those without, and those whose truth lies within it. */
  cells: number
  bare: number
  cellsInside: number
  /** Median u over the root mean square of the error, one for each kind. */
  readonly ratios: number[]
}

/** Measures whose coverage means something: a yes or no has none, and what cannot be negative does not scatter about 0. */
function countable(kind: Kind): MeasureId[] {
  return MEASURE_IDS.filter((id) => id !== 'in_window' && (kind.truth[id] ?? 0) !== 0 && !kind.beyond.includes(id))
}

export function addCoverage(into: Map<MeasureId, MeasureCoverage>, kind: Kind, records: readonly Measured[]): void {
  for (const measure of countable(kind)) {
    const truth = kind.truth[measure] as number
    const empty = { measure, values: 0, missing: 0, inside: 0, cells: 0, bare: 0, cellsInside: 0, ratios: [] }
    const sum = into.get(measure) ?? empty
    into.set(measure, sum)
    const floor = floorOf(measure, truth)
    const stated: number[] = []
    let squares = 0
    let count = 0
    for (const { readings } of records) {
      const { value, u } = readings[measure] ?? { value: null, u: null }
      if (value === null) {
        sum.missing++
        continue
      }
      sum.values++
      count++
      if (Math.abs(value - truth) <= 2 * (u ?? 0) + floor) sum.inside++
      squares += (value - truth) ** 2
      stated.push(u ?? 0)
    }
    const rms = Math.sqrt(squares / Math.max(1, count))
    // Where the error is less than any digit shown there is nothing to compare with.
    if (rms > floor) sum.ratios.push((stated.sort((a, b) => a - b)[stated.length >> 1] as number) / rms)
    for (const cell of cellsOf(records)) {
      const { mean, u95 } = statisticsOf(cell, measure)
      if (mean === null || u95 === null) {
        sum.bare++
        continue
      }
      sum.cells++
      if (Math.abs(mean - truth) <= u95 + floor) sum.cellsInside++
    }
  }
}

function cellsOf(records: readonly Measured[]): Measured[][] {
  const cells = new Map<number, Measured[]>()
  for (const record of records) cells.set(record.cell, [...(cells.get(record.cell) ?? []), record])
  return [...cells.values()]
}

/** Statistics of one cell as the program's matrix draws them, from this cell alone. */
function statisticsOf(cell: readonly Measured[], measure: MeasureId): { mean: number | null; u95: number | null } {
  const [{ from, to } = { from: 0, to: 255 }] = cell
  const entries = cell.map(({ readings, realisation, flags }): MatrixEntry => {
    const { value = null, u = null, common = null } = readings[measure] ?? {}
    return {
      captureId: realisation,
      repeat: realisation,
      values: { [measure]: value },
      uncertainties: u === null ? {} : { [measure]: u },
      common: common === null ? {} : { [measure]: common },
      flagCount: flags.length,
      excluded: false,
      overridden: false,
    }
  })
  const data = { sweepId: 1, recipeHash: '', levels: [from, to], cells: [{ from, to, entries }], unmeasured: 0 }
  const found = cellStatistics(data, measure).find((one) => one.from === from && one.to === to)
  return { mean: found?.mean ?? null, u95: found?.u95 ?? null }
}

export interface ClassCoverage {
  readonly group: string
  readonly measures: ReadonlyMap<MeasureId, MeasureCoverage>
  /** Records of sound kinds, and those of them with a flag. */
  readonly sound: number
  readonly flagged: number
}

export const shareOf = (part: number, whole: number): number | null => (whole === 0 ? null : part / whole)

export function medianOf(values: readonly number[]): number | null {
  const sorted = [...values].sort((a, b) => a - b)
  return sorted[sorted.length >> 1] ?? null
}

export interface Total {
  readonly values: number
  readonly missing: number
  readonly capture: number | null
  readonly worst: { readonly measure: MeasureId; readonly share: number } | null
  readonly cells: number
  readonly bare: number
  readonly cell: number | null
  readonly worstCell: { readonly measure: MeasureId; readonly share: number } | null
  readonly ratio: number | null
  readonly widest: { readonly measure: MeasureId; readonly share: number } | null
}

/** A class as a whole, with the measures that are covered worst and stated widest. */
export function totalOf({ measures }: Pick<ClassCoverage, 'measures'>): Total {
  const all = [...measures.values()]
  const sum = (of: (one: MeasureCoverage) => number): number => all.reduce((total, one) => total + of(one), 0)
  const extreme = (of: (one: MeasureCoverage) => number | null, sign: number): Total['worst'] => {
    const found = all.flatMap((one) => {
      const share = of(one)
      return share === null ? [] : [{ measure: one.measure, share }]
    })
    return found.sort((a, b) => sign * (a.share - b.share))[0] ?? null
  }
  return {
    values: sum((one) => one.values),
    missing: sum((one) => one.missing),
    capture: shareOf(
      sum((one) => one.inside),
      sum((one) => one.values),
    ),
    worst: extreme((one) => shareOf(one.inside, one.values), 1),
    cells: sum((one) => one.cells),
    bare: sum((one) => one.bare),
    cell: shareOf(
      sum((one) => one.cellsInside),
      sum((one) => one.cells),
    ),
    worstCell: extreme((one) => shareOf(one.cellsInside, one.cells), 1),
    ratio: medianOf(all.flatMap((one) => one.ratios)),
    widest: extreme((one) => medianOf(one.ratios), -1),
  }
}
