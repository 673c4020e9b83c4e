import { lateFlags } from './group/late.ts'
import { repeatFlags } from './group/repeats.ts'
import { rippleFlags } from './group/ripple.ts'
import { cellsOf, type GroupFlag, type GroupRow } from './group/rows.ts'

export { edgeOf, type GroupFlag, type GroupRow } from './group/rows.ts'

/** Flags that only a comparison shows; captures without the value compared are left out. */
export function groupFlags(rows: readonly GroupRow[]): GroupFlag[] {
  const cells = cellsOf(rows)
  return [...repeatFlags(cells), ...lateFlags(cells), ...rippleFlags(rows)]
}
