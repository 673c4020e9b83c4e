/** Counts what the flags found of what was planted. */
import { meanSd } from '#shared/signal/statistics.ts'
import { measureSweep, sweepsOf, type ArchivePlan, type MeasuredCapture } from './archive.ts'
import { DEFECT_KINDS, judge, KINDS, type DefectKind } from './kinds.ts'
import { describe } from './plant.ts'

/** What happened to one kind and its flag. */
export interface KindTally {
  planted: number
  found: number
  /** Other defects of which the flag is true as well. */
  alsoTrue: number
  /** Sound captures with the flag, and captures with another defect of which it is not true. */
  onSound: number
  onOthers: number
  /** Captures in words: missed defects, and captures flagged wrongly with the flag's evidence. */
  readonly misses: string[]
  readonly wrong: string[]
}

export interface Tally {
  captures: number
  sound: number
  readonly kinds: Record<DefectKind, KindTally>
  /** Planted outliers that stand out of what their sound repeats spread by, and those of them that were found. */
  readonly standing: { planted: number; found: number }
  /** Sound captures with each flag, whatever kind it belongs to. */
  readonly soundFlags: Record<string, number>
}

export interface KindScore extends KindTally {
  readonly kind: DefectKind
  /** Found ÷ planted; null when nothing was planted. */
  readonly recall: number | null
  /** (Found + also true) ÷ all captures with the flag; null when none has it. */
  readonly precision: number | null
  /** Found ÷ (found + false), captures of which the flag is also true left out: never above the precision. */
  readonly strictPrecision: number | null
}

export function emptyTally(): Tally {
  const one = (): KindTally => ({ planted: 0, found: 0, alsoTrue: 0, onSound: 0, onOthers: 0, misses: [], wrong: [] })
  return {
    captures: 0,
    sound: 0,
    kinds: Object.fromEntries(DEFECT_KINDS.map((kind) => [kind, one()])) as Tally['kinds'],
    standing: { planted: 0, found: 0 },
    soundFlags: {},
  }
}

/**
 * Standard deviations of the repeats from which on a capture among 150 is told from them at one false alarm in fifty
 * sweeps: half of it over three quantities and 150 captures is 2.2e-5, Student's t at the 38 degrees of freedom of eleven
 * cells alike is then 4.83, against the median of four others √(1 + π/8) = 1.18 times as much (scipy). What the program
 * states of its values plays no part.
 */
export const TOLD_FROM = 5.7

/**
 * Whether the spread of a planted outlier's sound repeats lets it be told from them at all: its duration (or its
 * integrated error, if it has none) is `TOLD_FROM` of their standard deviations off their mean. Fewer than three sound
 * repeats are no company.
 */
export function standsOut(capture: MeasuredCapture, sweep: readonly MeasuredCapture[]): Standing {
  const id = capture.result.values.transition_duration_s === null ? 'integrated_error_s' : 'transition_duration_s'
  const { from, to } = capture.step
  const repeats = sweep.flatMap(({ kind, step, result }) => {
    const value = result.values[id]
    return kind === null && step.from === from && step.to === to && value !== null ? [value] : []
  })
  const value = capture.result.values[id]
  const { mean, s } = meanSd(repeats)
  if (value === null || mean === null || s === null || repeats.length < 3) return { told: false, words: 'alone' }
  const off = Math.abs(value - mean)
  const share = (x: number): string => `${((100 * x) / Math.abs(mean)).toPrecision(2)} %`
  return {
    told: off > TOLD_FROM * s,
    words: `${share(off)} off the mean of ${repeats.length} sound repeats, which spread by ${share(s)}`,
  }
}

export interface Standing {
  readonly told: boolean
  readonly words: string
}

/** Counts one capture; `sweep` says in words which sweep it is from, `all` are that sweep’s captures. */
export function count(tally: Tally, capture: MeasuredCapture, sweep: string, all: readonly MeasuredCapture[]): void {
  tally.captures++
  const { kind: planted, flags, step, defect } = capture
  const ids = new Set(flags.map((flag) => flag.id))
  const where = `${sweep}, position ${step.position}, ${step.from} to ${step.to}`
  const what = defect === null ? 'sound' : describe(defect)
  if (planted === null) {
    tally.sound++
    for (const id of ids) tally.soundFlags[id] = (tally.soundFlags[id] ?? 0) + 1
  } else {
    const own = tally.kinds[planted]
    own.planted++
    const standing = planted === 'outlier' ? standsOut(capture, all) : null
    if (standing?.told === true) tally.standing.planted++
    if (ids.has(KINDS[planted].flag)) {
      if (standing?.told === true) tally.standing.found++
    } else {
      const by = standing === null ? '' : `, ${standing.words}`
      own.misses.push(`${where}: ${what}${by}; flags: ${[...ids].join(', ') || 'none'}`)
    }
  }
  for (const kind of DEFECT_KINDS) {
    const flag = flags.find((one) => one.id === KINDS[kind].flag)
    if (flag === undefined) continue
    const of = tally.kinds[kind]
    const verdict = judge(flag.id, planted)
    if (verdict === 'found') of.found++
    else if (verdict === 'true') of.alsoTrue++
    else {
      if (planted === null) of.onSound++
      else of.onOthers++
      of.wrong.push(`${where}: ${what}; ${flag.evidence}`)
    }
  }
}

export function addTally(sum: Tally, part: Tally): void {
  sum.captures += part.captures
  sum.sound += part.sound
  sum.standing.planted += part.standing.planted
  sum.standing.found += part.standing.found
  for (const kind of DEFECT_KINDS) {
    const a = sum.kinds[kind]
    const b = part.kinds[kind]
    for (const name of ['planted', 'found', 'alsoTrue', 'onSound', 'onOthers'] as const) a[name] += b[name]
    a.misses.push(...b.misses)
    a.wrong.push(...b.wrong)
  }
  for (const [id, n] of Object.entries(part.soundFlags)) sum.soundFlags[id] = (sum.soundFlags[id] ?? 0) + n
}

const share = (part: number, whole: number): number | null => (whole > 0 ? part / whole : null)

export function scoresOf(tally: Tally): KindScore[] {
  return DEFECT_KINDS.map((kind) => {
    const of = tally.kinds[kind]
    const wrong = of.onSound + of.onOthers
    return {
      kind,
      ...of,
      recall: share(of.found, of.planted),
      precision: share(of.found + of.alsoTrue, of.found + of.alsoTrue + wrong),
      strictPrecision: share(of.found, of.found + wrong),
    }
  })
}

/** Makes and measures every `parts`-th sweep of the archive from `part` on. */
export function tallyOf(plan: ArchivePlan, part = 0, parts = 1, onSweep: () => void = () => undefined): Tally {
  const tally = emptyTally()
  for (const sweep of sweepsOf(plan)) {
    if (sweep.number % parts !== part) continue
    const all = measureSweep(sweep)
    for (const capture of all) count(tally, capture, `seed ${plan.seed}, sweep ${sweep.number}`, all)
    onSweep()
  }
  return tally
}
