import { hertz, listed } from '#shared/domain/quantity-text.ts'
import type { RecordValue } from '#shared/record/figures.ts'
import { answer, type CampaignAnswer } from './answer.ts'
import { asOwn, type Estimate } from './estimate.ts'
import { type FigureId, FIGURES, type Judgement, type MeasuredPoint } from './figures.ts'
import { meanOverRefresh, type Weighting } from './over-refresh.ts'
import { rank, type Ranking } from './ranks.ts'

/** One display as the comparison sees it. */
export interface ComparedDisplay {
  readonly name: string
  /** From a simulated rig. */
  readonly invented: boolean
  readonly recipeHash: string
  readonly algorithm: string
  /** Levels of its sweeps, code; every sweep must have the same. */
  readonly levels: readonly number[]
  /** Identities of the rigs that measured it. What is shared cancels only between displays of one and the same rig. */
  readonly rigs: readonly string[]
  readonly points: readonly MeasuredPoint[]
  /** Figures of its record beyond the transitions. */
  readonly record: readonly RecordValue[]
  readonly answer: CampaignAnswer
}

/** The same without what limits make of it. */
export type DisplayData = Omit<ComparedDisplay, 'answer'>

/** What a display is represented by in a chart. */
export type Basis =
  /** Its fastest usable setting at one refresh rate. */
  | { readonly kind: 'fastest-usable'; readonly refreshHz: number }
  /** Its setting that is usable over the whole range, mean over the rates all displays have. */
  | { readonly kind: 'whole-range'; readonly weighting: Weighting }

export interface ComparedEntry {
  readonly name: string
  readonly invented: boolean
  readonly setting: string
  readonly estimate: Estimate
}

export interface Comparison {
  readonly figure: FigureId
  readonly basis: Basis
  /** Displays with a value, best first. */
  readonly entries: readonly ComparedEntry[]
  readonly ranking: Ranking
  /** Displays without one, and why. */
  readonly without: readonly { readonly name: string; readonly reason: string }[]
}

/**
 * The displays that can be set side by side: the largest group with the same recipe, algorithm, levels and origin, of
 * equal ones the first; and those left out, with the reason.
 */
export function alike<T extends Omit<ComparedDisplay, 'answer'>>(
  displays: readonly T[],
): { readonly displays: T[]; readonly leftOut: { readonly name: string; readonly reason: string }[] } {
  const groups = displays.map((one) => displays.filter((other) => reasonsAgainst(one, other).length === 0))
  const group = groups.reduce((best, one) => (one.length > best.length ? one : best), [])
  const [first] = group
  return {
    displays: group,
    leftOut: displays.flatMap((other) => {
      const reasons = first === undefined ? [] : reasonsAgainst(first, other)
      return reasons.length === 0 ? [] : [{ name: other.name, reason: `It has ${listed(reasons)}.` }]
    }),
  }
}

type Compared = Omit<ComparedDisplay, 'answer'>

function reasonsAgainst(first: Compared, other: Compared): string[] {
  return [
    other.recipeHash === first.recipeHash ? '' : `another recipe (${other.recipeHash}, not ${first.recipeHash})`,
    other.algorithm === first.algorithm ? '' : `another algorithm (${other.algorithm}, not ${first.algorithm})`,
    other.levels.join(' ') === first.levels.join(' ') ? '' : `other levels (${other.levels.join(', ')})`,
    other.invented === first.invented ? '' : other.invented ? 'simulated data' : 'measured, not simulated, data',
  ].filter((reason) => reason !== '')
}

/** Refresh rates that every display was measured at, Hz, ascending. */
export function commonRates(displays: readonly ComparedDisplay[]): number[] {
  const [first, ...others] = displays.map(({ points }) => new Set(points.map(({ refreshHz }) => refreshHz)))
  return [...(first ?? [])].filter((hz) => others.every((set) => set.has(hz))).sort((a, b) => a - b)
}

/** One figure over all displays; a display that does not qualify is named with the reason instead of a number. */
export function compareDisplays(displays: readonly ComparedDisplay[], figure: FigureId, basis: Basis): Comparison {
  const rates = commonRates(displays)
  // Another rig has a detector and a ladder of its own: their uncertainties are then each display's own.
  const oneRig = new Set(displays.flatMap(({ rigs }) => rigs)).size <= 1
  const found = displays.map((display) => {
    const { name, invented } = display
    const entry = entryOf(display, figure, basis, rates)
    return {
      name,
      invented,
      ...('estimate' in entry && !oneRig ? { ...entry, estimate: asOwn(entry.estimate) } : entry),
    }
  })
  const { better } = FIGURES[figure]
  const entries = found
    .flatMap((one) => ('estimate' in one ? [one] : []))
    .sort((a, b) => (better === 'low' ? 1 : -1) * (a.estimate.value - b.estimate.value))
  return {
    figure,
    basis,
    entries,
    ranking: rank(
      entries.map(({ estimate }) => estimate),
      better,
    ),
    without: found.flatMap((one) => ('reason' in one ? [{ name: one.name, reason: one.reason }] : [])),
  }
}

type Found = { readonly setting: string; readonly estimate: Estimate } | { readonly reason: string }

function entryOf(display: ComparedDisplay, figure: FigureId, basis: Basis, rates: readonly number[]): Found {
  if (basis.kind === 'fastest-usable') {
    const at = display.answer.fastest.find(({ refreshHz }) => refreshHz === basis.refreshHz)
    if (at === undefined) return { reason: `It was not measured at ${hertz(basis.refreshHz)} Hz.` }
    if (at.fastest === null) return { reason: `No setting is shown usable at ${hertz(basis.refreshHz)} Hz.` }
    const estimate = at.fastest.figures[figure]
    return estimate === null
      ? { reason: 'It has no value for this figure.' }
      : { setting: at.fastest.setting, estimate }
  }
  const setting = display.answer.wholeRange[0]?.setting
  if (setting === undefined) return { reason: 'No setting is shown usable over its whole range.' }
  const points = display.points.filter((point) => point.setting === setting && rates.includes(point.refreshHz))
  const mean = meanOverRefresh(
    points.flatMap(({ refreshHz, figures }) => {
      const estimate = figures[figure]
      return estimate === null ? [] : [{ refreshHz, estimate }]
    }),
    basis.weighting,
  )
  return mean === null
    ? { reason: 'It has no value for this figure at the rates all displays share.' }
    : { setting, estimate: mean }
}

/** What is asked of displays: a figure, each with its fastest usable setting `at` a rate (Hz) or its one for the whole range. */
export interface ComparisonQuestion {
  readonly judgement: Judgement
  readonly figure: FigureId
  readonly at: number | null
}

export interface ComparedAlike {
  /** Those that can be set side by side, under the judgement. */
  readonly displays: readonly ComparedDisplay[]
  readonly leftOut: readonly { readonly name: string; readonly reason: string }[]
  /** Refresh rates all of them share, Hz. */
  readonly rates: readonly number[]
  readonly found: Comparison
}

/** The whole way from displays to a ranking, like with like. */
export function compareAlike(
  data: readonly DisplayData[],
  { judgement: { limits, weighting }, figure, at }: ComparisonQuestion,
): ComparedAlike {
  const { displays: like, leftOut } = alike(data)
  const displays = like.map((one) => ({ ...one, answer: answer(one.points, limits, weighting) }))
  const basis: Basis = at === null ? { kind: 'whole-range', weighting } : { kind: 'fastest-usable', refreshHz: at }
  return { displays, leftOut, rates: commonRates(displays), found: compareDisplays(displays, figure, basis) }
}

/** What the ranking carries, in words: a winner only where it differs from every other. */
export function rankingSentence({ figure, entries, ranking }: Comparison): string {
  const first = entries[0]
  if (first === undefined) return 'Under these limits no display has a usable setting.'
  const { phrase } = FIGURES[figure]
  const tied = entries.filter((_, i) => i > 0 && !ranking.differs(0, i)).map(({ name }) => name)
  if (entries.length === 1) return `Only ${first.name} has a value.`
  // Whatever leaves the screen says by itself that nothing of it was measured.
  const invented = entries.some((entry) => entry.invented) ? ' All of these displays are simulated.' : ''
  return tied.length === 0
    ? `${first.name} is first in ${phrase}: it differs from every other at 5 % over all pairs.${invented}`
    : `In ${phrase}, ${first.name} is not shown to differ from ${listed(tied)}.${invented}`
}
