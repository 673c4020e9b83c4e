import { MEASURE_IDS, type MeasureId } from '../domain/measures.ts'
import type { Flag } from '../domain/result.ts'

/** Collects the numbers of one result; every measure ends as a finite number or as null with a reason. */
export interface ResultBuilder {
  set(id: MeasureId, value: number, uncertainty?: number): void
  lack(id: MeasureId, reason: string): void
  flag(flag: Flag): void
  value(id: MeasureId): number | null
  reason(id: MeasureId): string | undefined
  finish(): {
    values: Record<MeasureId, number | null>
    reasons: Partial<Record<MeasureId, string>>
    uncertainties: Partial<Record<MeasureId, number>>
    flags: Flag[]
  }
}

const BLANK = Object.fromEntries(MEASURE_IDS.map((id) => [id, null])) as Record<MeasureId, number | null>

export function resultBuilder(): ResultBuilder {
  const values = { ...BLANK }
  const reasons: Partial<Record<MeasureId, string>> = {}
  const uncertainties: Partial<Record<MeasureId, number>> = {}
  const flags: Flag[] = []
  return {
    set(id, value, uncertainty) {
      if (!Number.isFinite(value)) {
        values[id] = null
        reasons[id] = 'The record gives no finite number.'
        return
      }
      values[id] = value
      // Deleting turns the object into a slow one, so only where there is something to delete.
      if (reasons[id] !== undefined) delete reasons[id]
      if (uncertainty !== undefined && Number.isFinite(uncertainty)) uncertainties[id] = uncertainty
    },
    lack(id, reason) {
      values[id] = null
      reasons[id] = reason
    },
    flag(flag) {
      flags.push(flag)
    },
    value: (id) => values[id],
    reason: (id) => reasons[id],
    finish() {
      for (const id of MEASURE_IDS) if (values[id] === null) reasons[id] ??= 'The step could not be measured.'
      return { values, reasons, uncertainties, flags }
    },
  }
}
