/** Right, wrong but flagged, wrong and silent, undefined: one measure of one record, of one kind, and a kind as a whole. */
import { UNDECIDED } from '#shared/domain/result.ts'
import type { Kind, Measured, Reading } from './records.ts'

export type Verdict = 'right' | 'flagged' | 'silent' | 'undefined'
export const VERDICTS = ['right', 'flagged', 'silent', 'undefined'] as const

/** Share of a kind's realisations that must be right, and share of its wrong ones that must carry a flag. */
export const SHARE = 0.8

/** Below any digit that is shown: one part in 10,000 of the value, 10 ns, and a 100,000th of any other unit. */
export function floorOf(measure: string, truth: number): number {
  return 1e-4 * Math.abs(truth) + (measure.endsWith('_s') ? 1e-8 : 1e-5)
}

export type Outcome = 'right' | 'wrong' | 'undefined'

/**
 * One measure of one record. Right: within twice its stated standard uncertainty of the truth. A value whose true
 * instant lies after the record's end may also be left undefined. In window: yes and no are right or wrong; undecided is
 * right where the true settling lies within four stated standard uncertainties of the limit, and undefined elsewhere.
 */
export function outcomeOf(measure: string, kind: Kind, readings: Readonly<Record<string, Reading>>): Outcome {
  const truth = kind.truth[measure] ?? null
  const { value, u, reason } = readings[measure] ?? { value: null, u: null, reason: '' }
  if (measure === 'in_window') {
    if (value === 0 || value === 1) return value === truth ? 'right' : 'wrong'
    return reason === UNDECIDED && undecidedRightly(kind, readings) ? 'right' : 'undefined'
  }
  if (value === null) return truth === null || kind.beyond.includes(measure) ? 'right' : 'undefined'
  if (truth === null) return 'wrong'
  return Math.abs(value - truth) <= 2 * (u ?? 0) + floorOf(measure, truth) ? 'right' : 'wrong'
}

function undecidedRightly(kind: Kind, readings: Readonly<Record<string, Reading>>): boolean {
  const settling = kind.truth['settling_s'] ?? null
  const u = readings['settling_s']?.u ?? null
  if (settling === null || kind.refreshHz === null) return false
  return u !== null && Math.abs(settling - 1 / kind.refreshHz) <= 4 * u
}

export interface MeasureScore {
  readonly measure: string
  readonly verdict: Verdict
  readonly right: number
  readonly wrong: number
  readonly undefined: number
  /** Wrong values on records that carry a flag. */
  readonly wrongFlagged: number
  readonly truth: number | null
  readonly medianValue: number | null
  readonly medianU: number | null
}

export interface KindScore {
  readonly kind: Kind
  readonly verdict: Verdict
  readonly measures: readonly MeasureScore[]
  readonly realisations: number
  /** Records with at least one flag, and how often each flag was raised. */
  readonly flagged: number
  readonly flags: Readonly<Record<string, number>>
}

function median(values: readonly number[]): number | null {
  if (values.length === 0) return null
  const sorted = [...values].sort((a, b) => a - b)
  return ((sorted[(sorted.length - 1) >> 1] as number) + (sorted[sorted.length >> 1] as number)) / 2
}

export function scoreMeasure(measure: string, kind: Kind, records: readonly Measured[]): MeasureScore {
  const outcomes = records.map((record) => outcomeOf(measure, kind, record.readings))
  const count = (outcome: Outcome): number => outcomes.filter((one) => one === outcome).length
  const right = count('right')
  const wrong = count('wrong')
  const wrongFlagged = records.filter((record, i) => outcomes[i] === 'wrong' && record.flags.length > 0).length
  let verdict: Verdict = 'right'
  if (right < SHARE * records.length) {
    if (count('undefined') > wrong) verdict = 'undefined'
    else verdict = wrongFlagged >= SHARE * wrong ? 'flagged' : 'silent'
  }
  const read = records.map((record) => record.readings[measure])
  return {
    measure,
    verdict,
    right,
    wrong,
    undefined: count('undefined'),
    wrongFlagged,
    truth: kind.truth[measure] ?? null,
    medianValue: median(read.flatMap((one) => (one?.value == null ? [] : [one.value]))),
    medianU: median(read.flatMap((one) => (one?.u == null ? [] : [one.u]))),
  }
}

/** A kind is as bad as its worst measure: silent, then flagged, then undefined. */
export function scoreKind(kind: Kind, records: readonly Measured[]): KindScore {
  const measures = Object.keys(kind.truth).map((measure) => scoreMeasure(measure, kind, records))
  const worst = (['silent', 'flagged', 'undefined'] as const).find((verdict) =>
    measures.some((score) => score.verdict === verdict),
  )
  const flags: Record<string, number> = {}
  for (const record of records) for (const flag of new Set(record.flags)) flags[flag] = (flags[flag] ?? 0) + 1
  return {
    kind,
    verdict: worst ?? 'right',
    measures,
    realisations: records.length,
    flagged: records.filter((record) => record.flags.length > 0).length,
    flags,
  }
}

export type Tally = Record<Verdict, number>
export function tallyOf(verdicts: readonly Verdict[]): Tally {
  const tally: Tally = { right: 0, flagged: 0, silent: 0, undefined: 0 }
  for (const verdict of verdicts) tally[verdict]++
  return tally
}
