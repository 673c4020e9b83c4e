import type { Flag, FlagId } from '../../domain/result.ts'
import type { Analysis } from '../analysis.ts'
import type { ResultBuilder } from '../result-builder.ts'

/** Flags raised so far: some doubts explain others, which are then not raised. */
export interface CollectedFlags {
  raise(flag: Flag): void
  has(id: FlagId): boolean
}

export function collectFlags(out: ResultBuilder): CollectedFlags {
  const raised = new Set<FlagId>()
  return {
    raise(flag) {
      raised.add(flag.id)
      out.flag(flag)
    },
    has: (id) => raised.has(id),
  }
}

/** A span of the part looked at, counted in samples of the whole record. */
export function spanOf(analysis: Pick<Analysis, 'record'>, first: number, last: number): [number, number] {
  const { offset, series } = analysis.record
  const inside = (k: number): number => Math.max(0, Math.min(series.n - 1, Math.round(k))) + offset
  return [inside(first), inside(last)]
}
