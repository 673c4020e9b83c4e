import { MEASURES, type MeasureId } from '#shared/domain/measures.ts'
import { decimalsFor } from '#shared/domain/quantity-text.ts'
import type { ComparedSummary } from '#shared/findings/compare.ts'
import { displayUnit, fixed, printMeasure, UNDEFINED_TEXT } from '../../ui/format.ts'
import { EVERYTHING, writeAddress } from '../../navigation/address.ts'

export const SUMMARY_WORDS: Readonly<Record<ComparedSummary, string>> = {
  mean: 'Mean',
  median: 'Median',
  worst: 'Worst',
  riseMean: 'Rise mean',
  fallMean: 'Fall mean',
  darkMean: 'Dark-step mean',
  inWindowShare: 'In-window share',
  overshootMean: 'Overshoot mean',
  overshootOverLimitShare: 'Overshoot over the limit',
}

/** A mean of a measure with its unit; the mean of `in_window` is a share. */
export function meanText(id: MeasureId, value: number | null): string {
  if (value === null) return UNDEFINED_TEXT
  if (id === 'in_window') return `${fixed(value * 100, 1)} %`
  const { text, unit } = printMeasure(id, value)
  return `${text} ${unit}`.trim()
}

/** A difference too small for the digits a measure is printed with. */
const ALMOST_NONE = '≈ 0'

/** A difference with its sign and unit; one that the digits cannot show is not passed off as none. */
export function differenceText(id: MeasureId, difference: number | null): string {
  if (difference === null) return UNDEFINED_TEXT
  if (difference === 0) return '0'
  // Times to what a difference of two of them can mean.
  const text = MEASURES[id].unit === 's' ? `${fixed(difference * 1000, 2)} ms` : meanText(id, difference)
  if (/^[\u2212-]?0(\.0*)?( |$)/.test(text)) return ALMOST_NONE
  return difference > 0 ? `+${text}` : text
}

/** `+0.63 ± 0.17 ms`: a difference and its U95 to one decimal, that of the interval. */
export function differenceWithin(id: MeasureId, difference: number, u95: number): readonly [string, string] {
  const text = differenceText(id, difference)
  const [scale, unit] = id === 'in_window' ? [100, '%'] : [MEASURES[id].unit === 's' ? 1000 : 1, displayUnit(id)]
  const u = u95 * scale
  if (text === ALMOST_NONE || text === '0' || !(u > 0)) return [text, `± ${meanText(id, u95)}`]
  const decimals = decimalsFor(u, 3)
  const [signed, half] = [fixed(difference * scale, decimals), fixed(u, decimals)]
  return [`${difference > 0 ? '+' : ''}${signed}`, `± ${half} ${unit}`.trim()]
}

/** Whether a difference is large enough to be seen in its digits. */
export function isSeen(id: MeasureId, difference: number | null): boolean {
  return difference !== null && difference !== 0 && differenceText(id, difference) !== ALMOST_NONE
}

/** The measure whose unit a summary is printed in; shares are percent already. */
function summaryUnit(name: ComparedSummary, measure: MeasureId): MeasureId {
  return name === 'inWindowShare' || name.startsWith('overshoot') ? 'overshoot_pct' : measure
}

export const summaryText = (name: ComparedSummary, measure: MeasureId, value: number | null): string =>
  meanText(summaryUnit(name, measure), value)

export const summaryDifferenceText = (name: ComparedSummary, measure: MeasureId, difference: number | null): string =>
  differenceText(summaryUnit(name, measure), difference)

export const summaryMoved = (name: ComparedSummary, measure: MeasureId, difference: number | null): boolean =>
  isSeen(summaryUnit(name, measure), difference)

/** Difference without its unit, for a cell under a heading that names it. */
export function bareDifference(id: MeasureId, difference: number): string {
  const unit = displayUnit(id)
  const text = differenceText(id, difference)
  return unit !== '' && text.endsWith(` ${unit}`) ? text.slice(0, -unit.length - 1) : text
}

/** Address of the traces of one transition. */
export const tracesOf = (sweepId: number, from: number, to: number): string =>
  writeAddress({ captureId: null, filter: { ...EVERYTHING, sweepId, from, to } })
