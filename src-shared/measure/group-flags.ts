import type { MeasureId } from '../domain/measures.ts'
import type { Flag, Result } from '../domain/result.ts'
import { medianInPlace, MAD_TO_SIGMA } from '../signal/robust.ts'

/** What a comparison within one sweep needs to know of each capture. */
export interface GroupRow {
  readonly info: { readonly id: number; readonly from: number; readonly to: number }
  /** Values of the capture's result; null while it has none. */
  readonly values: Readonly<Record<MeasureId, number | null>> | null
  readonly uncertainties?: Result['uncertainties']
  /** False for a capture that others are not compared with (excluded, sent back, replaced); it is still judged itself. */
  readonly counts?: boolean
}

/** Fewest repeats of a transition (or captures of a sweep) that are compared with one another. */
export const FEWEST = 4
/** Robust standard deviations beyond which a repeat stands out. */
export const REPEAT_LIMIT = 3
/** Change of ripple frequency that stands out, %. */
export const RIPPLE_LIMIT_PCT = 1

/**
 * Flags that only a comparison shows. `differs-from-repeats`: a duration more than 3 robust standard deviations
 * (1.4826 MAD, but no less than the median uncertainty of a single duration) from the median of the same transition's
 * captures. `ripple-differs`: a ripple frequency more than 1 % (and more than its uncertainty) from the sweep's median.
 * Either needs at least four captures that count to compare with; captures without the value are left out.
 */
export function groupFlags(rows: readonly GroupRow[]): { captureId: number; flag: Flag }[] {
  const flags: { captureId: number; flag: Flag }[] = []
  const cells = new Map<string, GroupRow[]>()
  for (const row of rows) {
    const key = `${row.info.from} ${row.info.to}`
    const cell = cells.get(key)
    if (cell) cell.push(row)
    else cells.set(key, [row])
  }
  for (const cell of cells.values()) {
    const known = cell.flatMap((row) => {
      const value = row.values?.transition_duration_s
      return value === null || value === undefined
        ? []
        : [{ row, value, u: row.uncertainties?.transition_duration_s ?? 0 }]
    })
    const counted = known.filter(({ row }) => row.counts !== false)
    if (counted.length < FEWEST) continue
    const median = medianOf(counted.map((entry) => entry.value))
    const spread = Math.max(
      MAD_TO_SIGMA * medianOf(counted.map((entry) => Math.abs(entry.value - median))),
      medianOf(counted.map((entry) => entry.u)),
    )
    const limit = REPEAT_LIMIT * spread
    for (const { row, value } of known) {
      const distance = Math.abs(value - median)
      if (!(distance > limit) || distance < 1e-9 * median) continue
      flags.push({
        captureId: row.info.id,
        flag: {
          id: 'differs-from-repeats',
          evidence:
            `Its duration of ${(value * 1e3).toPrecision(4)} ms differs from the median ${(median * 1e3).toPrecision(4)} ms ` +
            `of ${counted.length} captures by more than ${(limit * 1e3).toPrecision(2)} ms.`,
          value: distance,
          limit,
          unit: 's',
          span: null,
        },
      })
    }
  }
  const ripples = rows.flatMap((row) => {
    const value = row.values?.ripple_frequency_hz
    return value === null || value === undefined ? [] : [{ row, value, u: row.uncertainties?.ripple_frequency_hz ?? 0 }]
  })
  const counted = ripples.filter(({ row }) => row.counts !== false)
  if (counted.length < FEWEST) return flags
  const median = medianOf(counted.map((entry) => entry.value))
  for (const { row, value, u } of ripples) {
    const limit = Math.max((RIPPLE_LIMIT_PCT / 100) * median, 3 * u)
    if (!(Math.abs(value - median) > limit)) continue
    flags.push({
      captureId: row.info.id,
      flag: {
        id: 'ripple-differs',
        evidence: `Its ripple of ${value.toPrecision(5)} Hz differs from the sweep’s ${median.toPrecision(5)} Hz.`,
        value,
        limit: median,
        unit: 'Hz',
        span: null,
      },
    })
  }
  return flags
}

function medianOf(values: readonly number[]): number {
  return medianInPlace(Float64Array.from(values))
}
