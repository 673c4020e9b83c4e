/** Counts what the flags found of what was planted. */
import { measureSweep, sweepsOf, type ArchivePlan, type MeasuredCapture } from './archive.ts'
import { DEFECT_KINDS, KINDS, type DefectKind } from './kinds.ts'

export interface KindScore {
  readonly kind: DefectKind
  readonly planted: number
  readonly found: number
  /** Captures without any defect that carry one of the kind's flags. */
  readonly falseAlarms: number
  /** Found ÷ planted, and found ÷ (found + false alarms); null when there is nothing to divide by. */
  readonly recall: number | null
  readonly precision: number | null
  /** Of the planted ones: how many carry the flags of each kind. */
  readonly seenAs: Readonly<Record<DefectKind, number>>
}

export interface Score {
  readonly captures: number
  readonly sound: number
  readonly kinds: readonly KindScore[]
  /** Sound captures with each flag, whatever kind it belongs to. */
  readonly soundFlags: Readonly<Record<string, number>>
}

export interface Tally {
  readonly planted: Record<DefectKind, number>
  readonly seenAs: Record<DefectKind, Record<DefectKind, number>>
  readonly falseAlarms: Record<DefectKind, number>
  readonly soundFlags: Record<string, number>
  captures: number
  sound: number
}

function zeros(): Record<DefectKind, number> {
  return Object.fromEntries(DEFECT_KINDS.map((kind) => [kind, 0])) as Record<DefectKind, number>
}

export function emptyTally(): Tally {
  return {
    planted: zeros(),
    seenAs: Object.fromEntries(DEFECT_KINDS.map((kind) => [kind, zeros()])) as Tally['seenAs'],
    falseAlarms: zeros(),
    soundFlags: {},
    captures: 0,
    sound: 0,
  }
}

export function count(tally: Tally, capture: MeasuredCapture): void {
  tally.captures++
  const ids = new Set(capture.flags.map((flag) => flag.id))
  const seen = DEFECT_KINDS.filter((kind) => KINDS[kind].flags.some((id) => ids.has(id)))
  if (capture.kind === null) {
    tally.sound++
    for (const kind of seen) tally.falseAlarms[kind]++
    for (const id of ids) tally.soundFlags[id] = (tally.soundFlags[id] ?? 0) + 1
    return
  }
  tally.planted[capture.kind]++
  for (const kind of seen) tally.seenAs[capture.kind][kind]++
}

export function addTally(sum: Tally, part: Tally): void {
  sum.captures += part.captures
  sum.sound += part.sound
  for (const kind of DEFECT_KINDS) {
    sum.planted[kind] += part.planted[kind]
    sum.falseAlarms[kind] += part.falseAlarms[kind]
    for (const as of DEFECT_KINDS) sum.seenAs[kind][as] += part.seenAs[kind][as]
  }
  for (const [id, n] of Object.entries(part.soundFlags)) sum.soundFlags[id] = (sum.soundFlags[id] ?? 0) + n
}

export function scoreOf(tally: Tally): Score {
  const kinds = DEFECT_KINDS.map((kind): KindScore => {
    const planted = tally.planted[kind]
    const found = tally.seenAs[kind][kind]
    const falseAlarms = tally.falseAlarms[kind]
    return {
      kind,
      planted,
      found,
      falseAlarms,
      recall: planted > 0 ? found / planted : null,
      precision: found + falseAlarms > 0 ? found / (found + falseAlarms) : null,
      seenAs: tally.seenAs[kind],
    }
  })
  return { captures: tally.captures, sound: tally.sound, kinds, soundFlags: tally.soundFlags }
}

/** Every `parts`-th sweep of the archive from `part` on. */
export function tallyOf(
  plan: ArchivePlan,
  part = 0,
  parts = 1,
  look: (capture: MeasuredCapture, sweepNumber: number) => void = () => undefined,
): Tally {
  const tally = emptyTally()
  for (const sweep of sweepsOf(plan)) {
    if (sweep.number % parts !== part) continue
    for (const capture of measureSweep(sweep)) {
      count(tally, capture)
      look(capture, sweep.number)
    }
  }
  return tally
}
