import type { Analysis } from '../analysis.ts'
import { spanOf, type Doubts } from './doubts.ts'
import { volts } from './words.ts'

/** Share of the input's range from which an overshoot of a tenth would be cut off. */
const MOST = 0.9

/** The brighter level leaves the converter no room for an overshoot. */
export function flagHeadroom(doubts: Doubts, analysis: Analysis): void {
  const { levels, input } = analysis
  const { rangeV } = input.trace
  const brighterV = Math.max(levels.beforeV, levels.afterV)
  if (brighterV <= MOST * rangeV) return
  const [first, end] = levels.afterV >= levels.beforeV ? levels.afterWindow : levels.beforeWindow
  doubts.raise({
    id: 'little-headroom',
    evidence: `The brighter level is ${volts(brighterV)} of ${volts(rangeV)}: an overshoot of a tenth would be cut off.`,
    value: brighterV,
    limit: MOST * rangeV,
    unit: 'V',
    span: spanOf(analysis, first, end),
  })
}
