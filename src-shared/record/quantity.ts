/** One quantity of a display's record: its figures, its state, and what is still to be done. */
import type { RecordKindId } from '#shared/domain/record-kinds.ts'
import { afterNumber, fixed, grouped, withUncertainty } from '#shared/domain/quantity-text.ts'
import { rowsOf } from '#shared/domain/record-kinds.ts'
import type { Reading } from '#shared/domain/reading.ts'
import { u95Of } from '#shared/findings/campaign/estimate.ts'
import { recordFigureInfo, type RecordFigure, type RecordValue } from './figures.ts'

type QuantityState = 'measured' | 'partly' | 'missing'

export interface RecordQuantity {
  readonly id: string
  readonly label: string
  readonly state: QuantityState
  readonly figures: readonly RecordFigure[]
  /** What it lacks; empty when it is complete. */
  readonly missing: readonly string[]
  /** Kinds of reading it is made from, the one to add next first. */
  readonly kinds: readonly RecordKindId[]
  readonly readingIds: readonly number[]
}

export function quantityOf(
  id: string,
  label: string,
  kinds: readonly RecordKindId[],
  readings: readonly (Reading | undefined)[],
  figures: readonly RecordFigure[],
  missing: readonly string[],
): RecordQuantity {
  const state = figures.length === 0 ? 'missing' : missing.length > 0 ? 'partly' : 'measured'
  const readingIds = readings.flatMap((reading) => (reading === undefined ? [] : [reading.id]))
  return { id, label, state, figures, missing, kinds, readingIds }
}

/** As printed: `at least 1190`, `5.3 ± 0.2 ms`, and plainly to four digits where no uncertainty is known: `832 900`. */
export function figureText({ value, unit, u95, bound, digits }: RecordFigure): string {
  const suffix = unit === '1' || unit === '' ? '' : unit === '°' ? unit : afterNumber(unit)
  if (bound === 'at-least') return `at least ${plainNumber(value, digits)}${suffix}`
  return u95 === null ? `${plainNumber(value, digits)}${suffix}` : withUncertainty(value, u95, unit)
}

/** What several figures belong to, such as “Before calibration”, empty where nothing; and the figure's own name. */
export function groupOf(label: string): readonly [group: string, name: string] {
  const [group = '', ...rest] = label.split(': ')
  return rest.length === 0 ? ['', label] : [group, rest.join(': ')]
}

/** A compared figure as printed. */
export const valueText = ({
  figure,
  estimate,
  atLeast,
}: Pick<RecordValue, 'figure' | 'estimate' | 'atLeast'>): string =>
  figureText({
    label: '',
    value: estimate.value,
    unit: recordFigureInfo(figure).unit,
    u95: u95Of(estimate),
    digits: 3,
    ...(atLeast ? { bound: 'at-least' as const } : {}),
  })

export function plainNumber(value: number, digits = 4): string {
  if (value === 0) return '0'
  if (Math.abs(value) >= 10_000) return grouped(Number(value.toPrecision(digits)))
  return fixed(value, Math.min(5, Math.max(0, digits - 1 - Math.floor(Math.log10(Math.abs(value))))))
}

/** The newest readable reading of a kind; readings come in the order they were taken. */
export const newest = (readings: readonly Reading[], kind: RecordKindId): Reading | undefined =>
  readings.findLast((reading) => reading.kind === kind && !reading.hidden && rowsOf(reading).length > 0)
