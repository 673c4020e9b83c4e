/** What the Import screen works out of the chosen files and what was said about them by hand. No clock, no host here. */
import type { ErrorDetail } from '#shared/domain/errors.ts'
import type { ImportMapping, ImportPreview } from '#shared/domain/import.ts'
import {
  NOTHING_READ,
  readerOfPattern,
  readPlainName,
  type NameReader,
  type NameReading,
} from '#shared/import/name-pattern.ts'

/** Typed by hand; an empty text takes back what was typed. */
export interface ByHand {
  readonly from: string
  readonly to: string
  readonly repeat: string
  /** Null leaves the mapping to the host's guess. */
  readonly mapping: ImportMapping | null
}
export const NOTHING_BY_HAND: ByHand = { from: '', to: '', repeat: '', mapping: null }

/** One chosen file. */
export interface Entry {
  readonly key: number
  readonly name: string
  readonly bytes: number
  readonly hand: ByHand
}

/** What the host makes of it. */
export type Reading =
  | { readonly kind: 'waiting' }
  | { readonly kind: 'reading' }
  | { readonly kind: 'read'; readonly fileId: string; readonly preview: ImportPreview }
  | { readonly kind: 'failed'; readonly problem: ErrorDetail }

export interface NameRule {
  /** `plain`: levels are found in common names; `pattern`: by the text; `none`: all levels are given by hand. */
  readonly kind: 'plain' | 'pattern' | 'none'
  readonly text: string
}

export const RULE_WORDS: Readonly<Record<NameRule['kind'], string>> = {
  plain: 'Automatic',
  pattern: 'By a pattern',
  none: 'Enter by hand',
}

/** Reader of a rule, which reads each name once; its problem is for the field, and nothing is read then. */
export function readerOf(rule: NameRule): { readonly read: NameReader; readonly problem: string } {
  if (rule.kind === 'plain') return { read: remembering(readPlainName), problem: '' }
  if (rule.kind === 'none') return { read: () => NOTHING_READ, problem: '' }
  const reader = readerOfPattern(rule.text)
  return typeof reader === 'function'
    ? { read: remembering(reader), problem: '' }
    : { read: () => NOTHING_READ, problem: reader.problem }
}

function remembering(read: NameReader): NameReader {
  const known = new Map<string, NameReading>()
  return (name) => {
    const reading = known.get(name) ?? read(name)
    known.set(name, reading)
    return reading
  }
}

/** Where an entry stands: only `ready` ones are imported, with or without warnings. */
export type EntryState = 'waiting' | 'unreadable' | 'interval' | 'levels' | 'repeat' | 'ready'

export interface Row extends Entry {
  readonly fromName: NameReading
  readonly from: number | null
  readonly to: number | null
  /** Given by hand, by the name, or the next that is free; null while the levels are not known. */
  readonly repeat: number | null
  readonly state: EntryState
  /** Why it cannot be imported, and what to do; empty when it can. */
  readonly problem: string
  readonly remedy: string
  readonly warnings: readonly string[]
  readonly fileId: string | null
  readonly preview: ImportPreview | null
}

/** A whole number in a range; null for anything else. */
export function wholeNumber(text: string, low: number, high: number): number | null {
  const trimmed = text.trim()
  if (!/^\d{1,6}$/.test(trimmed)) return null
  const value = Number(trimmed)
  return value >= low && value <= high ? value : null
}

interface Levels {
  readonly from: number | null
  readonly to: number | null
}

function levelsOf(entry: Entry, name: NameReading): Levels {
  const { from, to } = entry.hand
  return {
    from: from.trim() === '' ? name.from : wholeNumber(from, 0, 255),
    to: to.trim() === '' ? name.to : wholeNumber(to, 0, 255),
  }
}

const pairKey = ({ from, to }: Levels): string | null => (from === null || to === null ? null : `${from} ${to}`)

/** Repeat numbers: those given by hand first, then those of the names, then the next free ones in the order of the list. */
function repeatsOf(
  entries: readonly Entry[],
  levels: readonly Levels[],
  names: readonly NameReading[],
): (number | null)[] {
  const repeats: (number | null)[] = entries.map(() => null)
  const taken = new Set<string>()
  const take = (i: number, pair: string, repeat: number): void => {
    repeats[i] = repeat
    taken.add(`${pair} ${repeat}`)
  }
  const each = (run: (i: number, pair: string) => void): void =>
    entries.forEach((_, i) => {
      const pair = pairKey(levels[i] ?? { from: null, to: null })
      if (pair !== null && repeats[i] === null) run(i, pair)
    })
  each((i, pair) => {
    const given = wholeNumber(entries[i]?.hand.repeat ?? '', 1, 1000)
    if (given !== null) take(i, pair, given)
  })
  each((i, pair) => {
    const named = names[i]?.repeat ?? null
    if (named !== null && !taken.has(`${pair} ${named}`)) take(i, pair, named)
  })
  const next = new Map<string, number>()
  each((i, pair) => {
    let repeat = next.get(pair) ?? 1
    while (taken.has(`${pair} ${repeat}`)) repeat += 1
    next.set(pair, repeat + 1)
    take(i, pair, repeat)
  })
  return repeats
}

type Judgement = Pick<Row, 'state' | 'problem' | 'remedy'>

function judge(entry: Entry, reading: Reading, levels: Levels, repeat: number | null, twice: boolean): Judgement {
  if (reading.kind === 'failed')
    return { state: 'unreadable', problem: reading.problem.message, remedy: reading.problem.remedy }
  const preview = reading.kind === 'read' ? reading.preview : null
  if (preview?.problem) return { state: 'unreadable', problem: preview.problem.message, remedy: preview.problem.remedy }
  if (preview !== null && preview.sampleRateHz === 0)
    return {
      state: 'interval',
      problem: 'There is no time column and no sample interval.',
      remedy: 'Enter the sample interval under Columns, or choose the time column.',
    }
  const { from, to } = levels
  const typed = [entry.hand.from, entry.hand.to].find(
    (text) => text.trim() !== '' && wholeNumber(text, 0, 255) === null,
  )
  if (typed !== undefined)
    return { state: 'levels', problem: `“${typed}” is not a grey-level code from 0 to 255.`, remedy: 'Correct it.' }
  if (from === null || to === null)
    return {
      state: 'levels',
      problem: 'Its name does not give the levels.',
      remedy: 'Enter the levels before and after the change, or a pattern for the names.',
    }
  if (from === to)
    return {
      state: 'levels',
      problem: `Both levels are ${from}.`,
      remedy: 'Enter the levels before and after the change.',
    }
  if (entry.hand.repeat.trim() !== '' && wholeNumber(entry.hand.repeat, 1, 1000) === null)
    return { state: 'repeat', problem: `“${entry.hand.repeat}” is not a repeat number.`, remedy: 'Give 1, 2, 3 …' }
  if (twice)
    return {
      state: 'repeat',
      problem: `Repeat ${repeat} of ${from} → ${to} is given twice.`,
      remedy: 'Give another number, or clear the field to have it numbered.',
    }
  if (preview === null) return { state: 'waiting', problem: '', remedy: '' }
  return { state: 'ready', problem: '', remedy: '' }
}

const NO_WARNINGS: readonly string[] = []

/** The list as it is shown and imported. `readings` may lack entries: they are waiting. */
export function rowsOf(
  entries: readonly Entry[],
  readings: ReadonlyMap<number, Reading>,
  read: NameReader,
): readonly Row[] {
  const names = entries.map((entry) => read(entry.name))
  const levels = entries.map((entry, i) => levelsOf(entry, names[i] ?? NOTHING_READ))
  const repeats = repeatsOf(entries, levels, names)
  const count = new Map<string, number>()
  const places = entries.map((_, i) => `${pairKey(levels[i] ?? { from: null, to: null })} ${repeats[i]}`)
  for (const place of places) count.set(place, (count.get(place) ?? 0) + 1)
  return entries.map((entry, i) => {
    const reading = readings.get(entry.key) ?? { kind: 'waiting' }
    const own = levels[i] ?? { from: null, to: null }
    const repeat = repeats[i] ?? null
    const twice = repeat !== null && (count.get(places[i] ?? '') ?? 0) > 1
    return {
      ...entry,
      ...own,
      repeat,
      fromName: names[i] ?? NOTHING_READ,
      ...judge(entry, reading, own, repeat, twice),
      warnings: reading.kind === 'read' ? reading.preview.warnings : NO_WARNINGS,
      fileId: reading.kind === 'read' ? reading.fileId : null,
      preview: reading.kind === 'read' ? reading.preview : null,
    }
  })
}

/**
 * Rows that did not change are the same objects as the time before, so that a list of thousands only draws those that
 * did.
 */
export function createRowKeeper(): (rows: readonly Row[]) => readonly Row[] {
  let kept = new Map<number, Row>()
  return (rows) => {
    const same = rows.map((row) => {
      const before = kept.get(row.key)
      return before !== undefined && isSame(before, row) ? before : row
    })
    kept = new Map(same.map((row) => [row.key, row]))
    return same
  }
}

const isSame = (a: Row, b: Row): boolean =>
  (Object.keys(b) as (keyof Row)[]).every((name) => Object.is(a[name], b[name]))

export interface SweepDraft {
  readonly setting: string
  /** Hz, as typed. */
  readonly refresh: string
}

/** Number with point or comma as decimal sign; null for anything else. */
export function decimalNumber(text: string): number | null {
  const trimmed = text.trim().replace(',', '.')
  if (!/^[+-]?(\d+\.?\d*|\.\d+)(e[+-]?\d{1,3})?$/i.test(trimmed)) return null
  const value = Number(trimmed)
  return Number.isFinite(value) ? value : null
}

export function refreshOf(text: string): number | null {
  const value = decimalNumber(text)
  return value !== null && value >= 10 && value <= 1000 ? value : null
}

/** What is missing before the ready rows can be imported. */
export function blockersOf(rows: readonly Row[], draft: SweepDraft, campaignId: number | null): readonly string[] {
  const blockers: string[] = []
  const waiting = rows.filter(({ state }) => state === 'waiting').length
  const ready = rows.filter(({ state }) => state === 'ready')
  if (rows.length === 0) blockers.push('Choose recordings.')
  else if (waiting > 0)
    blockers.push(`Wait until ${waiting === 1 ? 'a recording is' : `${waiting} recordings are`} read.`)
  else if (ready.length === 0) blockers.push('No recording can be imported yet: see the list.')
  if (new Set(ready.flatMap(({ from, to }) => [from, to])).size > 33)
    blockers.push('A sweep has at most 33 different levels: remove recordings and import them as a sweep of their own.')
  if (campaignId === null) blockers.push('Create or choose a campaign.')
  if (draft.setting.trim() === '') blockers.push('Name the setting.')
  if (draft.refresh.trim() === '') blockers.push('Give the refresh rate.')
  else if (refreshOf(draft.refresh) === null) blockers.push('The refresh rate is a number from 10 to 1000 Hz.')
  return blockers
}

/** What the host is asked to import, and the entries it is, in the same order. */
export interface ImportStart {
  readonly keys: readonly number[]
  readonly campaignId: number
  readonly setting: string
  readonly refreshHz: number
  readonly files: {
    readonly fileId: string
    readonly name: string
    readonly mapping: ImportMapping
    readonly from: number
    readonly to: number
    readonly repeat: number
  }[]
}

/** The ready rows as one sweep; null while something is missing (see `blockersOf`). */
export function startOf(rows: readonly Row[], draft: SweepDraft, campaignId: number | null): ImportStart | null {
  const refreshHz = refreshOf(draft.refresh)
  if (campaignId === null || refreshHz === null || blockersOf(rows, draft, campaignId).length > 0) return null
  const keys: number[] = []
  const files: ImportStart['files'] = []
  for (const { key, name, state, fileId, preview, from, to, repeat } of rows) {
    if (state !== 'ready' || fileId === null || preview === null) continue
    if (from === null || to === null || repeat === null) continue
    keys.push(key)
    files.push({ fileId, name: name.slice(-MAX_NAME), mapping: preview.mapping, from, to, repeat })
  }
  return { keys, campaignId, setting: draft.setting.trim(), refreshHz, files }
}

/** Characters of a name that the host keeps. */
const MAX_NAME = 300

/** The part of a mapping that was changed, put into another one. */
export function withChange(mapping: ImportMapping, change: Partial<ImportMapping>): ImportMapping {
  const next = { ...mapping, ...change }
  // A decimal comma cannot stand beside a comma between columns.
  if (next.decimal === ',' && next.delimiter === ',')
    return change.delimiter === ',' ? { ...next, decimal: '.' } : { ...next, delimiter: ';' }
  return next
}
