import { MEASURE_IDS, type MeasureId } from '../domain/measures.ts'
import type { Flag, UncertaintyTerm } from '../domain/result.ts'
import type { LeftEvidence } from './residuals.ts'
import { LEFT_TERMS } from './terms.ts'

/** Collects the numbers of one result; every measure ends as a finite number or as null with a reason. */
export interface ResultBuilder {
  /** `common` is the part of the uncertainty that repeats do not average. */
  set(id: MeasureId, value: number, uncertainty?: number, common?: number): void
  /** Keeps what is left in the trace (squares of the budget times scale²) where it moves this measure most. */
  noteLeft(id: MeasureId, value: number, scale: number, squares: Float64Array): void
  /** Worst measure of each kind of thing that is left in the trace. */
  left(): LeftEvidence[]
  /** Filled with the terms of each measure where they are asked for. */
  readonly terms: Partial<Record<MeasureId, readonly UncertaintyTerm[]>> | null
  lack(id: MeasureId, reason: string): void
  flag(flag: Flag): void
  value(id: MeasureId): number | null
  uncertainty(id: MeasureId): number | undefined
  reason(id: MeasureId): string | undefined
  finish(): {
    values: Record<MeasureId, number | null>
    reasons: Partial<Record<MeasureId, string>>
    uncertainties: Partial<Record<MeasureId, number>>
    common: Partial<Record<MeasureId, number>>
    flags: Flag[]
  }
}

const BLANK = Object.fromEntries(MEASURE_IDS.map((id) => [id, null])) as Record<MeasureId, number | null>

export function resultBuilder(withTerms = false): ResultBuilder {
  const values = { ...BLANK }
  const reasons: Partial<Record<MeasureId, string>> = {}
  const uncertainties: Partial<Record<MeasureId, number>> = {}
  const common: Partial<Record<MeasureId, number>> = {}
  const shares = new Float64Array(LEFT_TERMS.length)
  const worst: (LeftEvidence | null)[] = LEFT_TERMS.map(() => null)
  const flags: Flag[] = []
  return {
    terms: withTerms ? {} : null,
    set(id, value, uncertainty, part) {
      if (!Number.isFinite(value)) {
        values[id] = null
        reasons[id] = 'The record gives no finite number.'
        return
      }
      values[id] = value
      // Deleting turns the object into a slow one, so only where there is something to delete.
      if (reasons[id] !== undefined) delete reasons[id]
      if (uncertainty !== undefined && Number.isFinite(uncertainty)) uncertainties[id] = uncertainty
      if (part !== undefined && Number.isFinite(part)) common[id] = part
    },
    noteLeft(id, value, scale, squares) {
      if (!(Math.abs(value) > 0)) return
      for (let i = 0; i < LEFT_TERMS.length; i++) {
        const { kind, at } = LEFT_TERMS[i]!
        const u = scale * Math.sqrt(squares[at]!)
        const share = u / Math.abs(value)
        if (share <= shares[i]!) continue
        shares[i] = share
        worst[i] = { kind, measure: id, u, value }
      }
    },
    left: () => worst.filter((one) => one !== null),
    lack(id, reason) {
      values[id] = null
      reasons[id] = reason
    },
    flag(flag) {
      flags.push(flag)
    },
    value: (id) => values[id],
    uncertainty: (id) => uncertainties[id],
    reason: (id) => reasons[id],
    finish() {
      for (const id of MEASURE_IDS) if (values[id] === null) reasons[id] ??= 'The step could not be measured.'
      return { values, reasons, uncertainties, common, flags }
    },
  }
}
