/** Displays compared by one figure of their records, like with like. */
import { fixed, listed } from '#shared/domain/quantity-text.ts'
import {
  type Conditions,
  NEAR,
  recordFigureInfo,
  type RecordFigureId,
  type RecordValue,
} from '#shared/record/figures.ts'
import { difference, type Estimate, u95Of } from './estimate.ts'
import { rank, type Ranking } from './ranks.ts'

/** A display as its record sees it. */
export interface RecordedDisplay {
  readonly name: string
  readonly invented: boolean
  readonly record: readonly RecordValue[]
}

export interface RecordEntry {
  readonly name: string
  readonly value: RecordValue
  /** This minus the first, with U95 of the difference; null for the first and where no uncertainty is known. */
  readonly fromFirst: { readonly value: number; readonly u95: number } | null
}

export interface RecordComparison {
  readonly figure: RecordFigureId
  /** What all of them were measured under. */
  readonly conditions: Conditions
  /** Displays with a value measured alike, best first; by size where neither end is better. */
  readonly entries: readonly RecordEntry[]
  readonly ranking: Ranking
  /** Displays that do not enter, and why. */
  readonly without: readonly { readonly name: string; readonly reason: string }[]
}

const near = (a: number, b: number): boolean => Math.abs(a - b) <= NEAR * Math.max(Math.abs(a), Math.abs(b))

/** The sum of codes tells sets of patches apart; to a reader it says nothing. */
const shownPatches = (value: string): string => value.replace(/, codes adding up to \d+$/, '')

/** What keeps two values from being compared, in words; none when they were measured alike. */
function unlike(one: Conditions, other: Conditions): string[] {
  const names = [...new Set([...Object.keys(one), ...Object.keys(other)])]
  return names.flatMap((name) => {
    const [a, b] = [one[name], other[name]]
    const same = typeof a === 'number' && typeof b === 'number' ? near(a, b) : a === b
    if (same) return []
    if (name === 'patches' && a !== undefined && b !== undefined) {
      const [these, those] = [shownPatches(String(b)), shownPatches(String(a))]
      return [these === those ? 'other patches' : `${these}, not ${those}`]
    }
    return [`${name} ${b ?? 'not stated'}, not ${a ?? 'stated'}`]
  })
}

/** `144 Hz, by rig`: conditions in words. */
export const conditionsText = (conditions: Conditions): string =>
  Object.entries(conditions)
    .map(([name, value]) => conditionText(name, value))
    .join(', ')

function conditionText(name: string, value: string | number): string {
  if (typeof value === 'number') return `${value} ${name}`
  if (name === 'by') return value === 'typed' ? 'typed in' : `by ${value}`
  if (name === 'black') return `black ${value}`
  if (name === 'heights') return `at ${value} of the height`
  return name === 'patches' ? shownPatches(value) : value
}

/**
 * The values that the most displays share conditions of, of equally many the first; simulated and measured data never
 * together. Of a display with several the newest counts. Ranks at 5 % over all pairs; a bound or a value without
 * uncertainty differs from nothing.
 */
export function compareRecords(displays: readonly RecordedDisplay[], figure: RecordFigureId): RecordComparison {
  const own = displays.map((display) => ({
    display,
    values: display.record.filter((value) => value.figure === figure),
  }))
  const alikeTo = (base: RecordValue, invented: boolean) =>
    own.flatMap(({ display, values }) => {
      const value = values.findLast((one) => unlike(base.conditions, one.conditions).length === 0)
      return value === undefined || display.invented !== invented ? [] : [{ display, value }]
    })
  let best: {
    readonly base: RecordValue
    readonly invented: boolean
    readonly group: ReturnType<typeof alikeTo>
  } | null = null
  for (const { display, values } of own)
    for (const base of values.toReversed()) {
      const group = alikeTo(base, display.invented)
      if (best === null || group.length > best.group.length) best = { base, invented: display.invented, group }
    }
  const { better } = recordFigureInfo(figure)
  const sorted = [...(best?.group ?? [])].sort(
    (a, b) => (better === 'high' ? -1 : 1) * (a.value.estimate.value - b.value.estimate.value),
  )
  const estimates = sorted.map(({ value }) => rankable(value))
  const first = estimates[0]
  return {
    figure,
    conditions: best?.base.conditions ?? {},
    entries: sorted.map(({ display: { name }, value }, i) => ({
      name,
      value,
      fromFirst: first === undefined || i === 0 ? null : differenceOf(estimates[i] as Estimate, first),
    })),
    ranking: rank(estimates, better ?? 'low'),
    without: own.flatMap(({ display, values }) => {
      if (best?.group.some((one) => one.display === display) === true) return []
      const last = values.at(-1)
      if (last === undefined) return [{ name: display.name, reason: 'Its record has no value for this figure.' }]
      const reasons =
        best !== null && display.invented !== best.invented
          ? [display.invented ? 'simulated data' : 'measured, not simulated, data']
          : unlike(best?.base.conditions ?? {}, last.conditions)
      return [{ name: display.name, reason: `It was measured otherwise: ${listed(reasons)}.` }]
    }),
  }
}

const rankable = ({ estimate, atLeast }: RecordValue): Estimate => (atLeast ? { ...estimate, u: null } : estimate)

function differenceOf(a: Estimate, b: Estimate): RecordEntry['fromFirst'] {
  const found = difference(a, b)
  const u95 = u95Of(found)
  return u95 === null ? null : { value: found.value, u95 }
}

/** What the ranking carries, in words. */
export function recordRankingSentence({ figure, entries, ranking }: RecordComparison): string {
  const [first, ...others] = entries
  const { phrase, better } = recordFigureInfo(figure)
  if (first === undefined) return `No record has a value of ${phrase}.`
  if (others.length === 0) return `Only ${first.name} has a value measured like this.`
  const tied = others.filter((_, i) => !ranking.differs(0, i + 1)).map(({ name }) => name)
  if (better === null) {
    const apart = others.length - tied.length
    return apart === 0
      ? `In ${phrase}, ${first.name} is not shown to differ from ${listed(tied)}; neither end is better by itself.`
      : `In ${phrase}, ${apart} of ${others.length} differ from ${first.name}; neither end is better by itself.`
  }
  return tied.length === 0
    ? `${first.name} is first in ${phrase}: it differs from every other at 5 % over all pairs.`
    : `In ${phrase}, ${first.name} is not shown to differ from ${listed(tied)}.`
}

/** `−12.3 ± 0.4`, in the figure's own unit. */
export const differenceText = ({ value, u95 }: NonNullable<RecordEntry['fromFirst']>): string => {
  const decimals = u95 > 0 ? Math.min(6, Math.max(0, 1 - Math.floor(Math.log10(u95)))) : 3
  return `${value > 0 ? '+' : ''}${fixed(value, decimals)} ± ${fixed(u95, decimals)}`
}
